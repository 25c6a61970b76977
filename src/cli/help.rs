//! The top help page: commands by task, examples, exit codes, and the caution.

use super::args::{Cli, Colour};
use super::screen::{colour_allowed, width};
use crate::report::caution::CAUTION;
use crate::report::grid::Tone;
use crate::report::text::Terminal;
use clap::{ColorChoice, Command, CommandFactory};
use std::fmt::Write as _;
use std::io::IsTerminal;

/// Tasks with the commands that serve them. A command that is named nowhere here stands under [`OTHERS`]; a
/// name without a command is passed over.
const TASKS: [(&str, &[&str]); 9] = [
    ("Begin", &["new", "check", "worlds"]),
    ("Where to aim, and why", &["band", "corridor"]),
    ("One flight in full", &["pass"]),
    ("How to be captured", &["capture", "campaign"]),
    ("Come down at a place", &["land"]),
    (
        "What if, and what matters",
        &["sweep", "influence", "compare"],
    ),
    ("After a flight", &["learn"]),
    (
        "Very many passes, here or on many machines",
        &["run", "plan", "shard", "missing", "merge", "replay"],
    ),
    ("The program itself", &["completions", "man"]),
];

/// The task of commands without one.
const OTHERS: &str = "Others";

const EXAMPLES: [(&str, &str); 6] = [
    (
        "periband new my-arrival.yaml",
        "a scenario to start from, every key explained",
    ),
    (
        "periband band my-arrival.yaml",
        "the safe band; files in out/my-arrival/band/",
    ),
    (
        "periband band my-arrival.yaml --set limits.peak_deceleration=2.5g",
        "the same with another limit",
    ),
    (
        "periband pass my-arrival.yaml --periapsis 51km --sample 7",
        "sample 7 of the ensemble, flown alone",
    ),
    (
        "periband band my-arrival.yaml --json | jq .recommended_periapsis_km",
        "one number for another program",
    ),
    (
        "periband worlds mars",
        "what is known of a world, with its sources",
    ),
];

/// The command line with its help pages laid out for the screen they are written to; `colour` is what the
/// arguments ask for.
pub(super) fn command(colour: Option<Colour>) -> Command {
    let bare = Cli::command();
    let terminal = Terminal {
        width: width(),
        colour: colour_allowed(colour, std::io::stdout().is_terminal()),
    };
    let choice = match colour {
        Some(Colour::Always) => ColorChoice::Always,
        Some(Colour::Never) => ColorChoice::Never,
        Some(Colour::Auto) | None => ColorChoice::Auto,
    };
    let page = page(&bare, terminal);
    bare.help_template(page)
        .color(choice)
        .term_width(terminal.width)
        .mut_subcommands(move |command| command.color(choice).term_width(terminal.width))
}

/// The template of the top page.
fn page(command: &Command, terminal: Terminal) -> String {
    let head = |text: &str| terminal.toned(text, Tone::Strong);
    let mut page = format!("{{about}}\n\n{} {{usage}}\n", head("Usage:"));
    let shown: Vec<&Command> = command
        .get_subcommands()
        .filter(|c| !c.is_hide_set())
        .collect();
    let find = |name: &str| shown.iter().find(|command| command.get_name() == name);
    for (task, names) in TASKS {
        let commands: Vec<&&Command> = names.iter().filter_map(|name| find(name)).collect();
        page += &listed(&head(task), &commands, terminal);
    }
    let named = |command: &Command| {
        TASKS
            .iter()
            .any(|(_, names)| names.contains(&command.get_name()))
    };
    let others: Vec<&&Command> = shown.iter().filter(|command| !named(command)).collect();
    page += &listed(&head(OTHERS), &others, terminal);
    let _ = write!(page, "\n{}\n", head("Examples:"));
    for (example, what) in EXAMPLES {
        let _ = write!(page, "  {example}\n      {what}\n");
    }
    let _ = write!(
        page,
        "\n{}\n{{options}}\n\n",
        head("Options of every command:")
    );
    page += &terminal.paragraph(
        "Exit codes: 0 done, 2 wrong command line or scenario, 3 numerical failure or parts that \
         cannot be merged, 4 cannot read or write, or another run holds the folder, \
         130 stopped. `periband help COMMAND` tells more of a command.",
        0,
    );
    page.push('\n');
    page += &terminal.paragraph(&format!("{} {CAUTION}", "Caution."), 0);
    page.trim_end().to_owned()
}

fn listed(task: &str, commands: &[&&Command], terminal: Terminal) -> String {
    /// Columns before what a command is for.
    const INDENT: usize = 16;
    if commands.is_empty() {
        return String::new();
    }
    let mut text = format!("\n{task}\n");
    for command in commands {
        let about = command
            .get_about()
            .map(ToString::to_string)
            .unwrap_or_default();
        // The name stands in the indent of the paragraph's first line.
        let lines = terminal.paragraph(&about, INDENT);
        let _ = write!(text, "  {:<1$}{lines}", command.get_name(), INDENT - 2);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_command_stands_under_one_task() {
        let command = Cli::command();
        let page = page(&command, Terminal::default());
        for command in command.get_subcommands().filter(|c| !c.is_hide_set()) {
            let line = format!("\n  {} ", command.get_name());
            assert_eq!(page.matches(&line).count(), 1, "{}", command.get_name());
        }
        assert!(
            page.lines().all(|line| line.chars().count() <= 80),
            "{page}"
        );
    }
}
