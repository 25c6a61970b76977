//! The files of `learn`: summary, residuals, figure, page, and the scenario of the next pass.

use super::closing::closing;
use super::error::ReportError;
use super::figure::Figure;
use super::folder::{RunFacts, RunFolder};
use super::grid::Tone;
use super::learn_text;
use super::page::{Block, Page, Section};
use super::plot::residuals::{Instrument, Residuals};
use super::run_facts::facts;
use super::table::{Column, write_csv, write_parquet};
use crate::scenario::log_columns::Channel;
use crate::study::Case;
use crate::study::learn::Learned;
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Name of the scenario of the next pass in the run folder.
pub const NEXT: &str = "next.yaml";

/// The run folder of `learn`, being filled.
pub struct Files {
    folder: RunFolder,
    facts: RunFacts,
}

impl Files {
    /// Makes the folder under `base`; `arguments` are those of the command line beside the scenario.
    ///
    /// # Errors
    /// [`ReportError`] when the folder cannot be made.
    pub fn create(case: &Case, base: &Path, arguments: &str) -> Result<Self, ReportError> {
        let (folder, facts) = facts(case, base, ("learn", arguments))?;
        Ok(Self { folder, facts })
    }

    /// Where the scenario of the next pass goes.
    #[must_use]
    pub fn next(&self) -> PathBuf {
        self.folder.file(NEXT)
    }

    /// Writes everything and gives the folder's path.
    ///
    /// # Errors
    /// [`ReportError`] when the figure cannot be drawn or a file not written.
    pub fn finish(
        mut self,
        case: &Case,
        learned: &Learned,
        (summary, next, log): (&Value, &str, &[u8]),
    ) -> Result<PathBuf, ReportError> {
        self.folder.write_json("summary.json", summary)?;
        self.folder.write("flight.csv", log)?;
        self.folder.write(NEXT, next.as_bytes())?;
        let columns = columns(learned);
        let notes = [(
            "scenario_sha256".to_owned(),
            self.facts.scenario_sha256.clone(),
        )];
        write_parquet(&self.folder.file("residuals.parquet"), &columns, &notes)?;
        self.folder.note("residuals.parquet")?;
        write_csv(&self.folder.file("residuals.csv"), &columns)?;
        self.folder.note("residuals.csv")?;
        let residuals = figure(case, learned);
        self.folder.write_figure("residuals", &residuals)?;
        self.folder
            .write_page(&page(case, learned, (&residuals, next), &self.facts)?)?;
        Ok(self.folder.finish(&self.facts)?)
    }
}

/// Seconds since the entry interface of a reading.
fn since_interface(learned: &Learned, place: usize) -> f64 {
    let reading = &learned.readings.list[place];
    let clock = learned
        .clocks
        .iter()
        .rev()
        .find(|clock| clock.line <= reading.line);
    reading.time_s
        + clock
            .or(learned.clocks.first())
            .map_or(0.0, |clock| clock.offset_s)
}

fn columns(learned: &Learned) -> Vec<Column> {
    let list = &learned.readings.list;
    let fitted = &learned.fitted;
    let noise = |place: usize| learned.readings.noise[list[place].channel as usize];
    let numbers = |of: &dyn Fn(usize) -> f64| (0..list.len()).map(of).collect::<Vec<f64>>();
    let whole = |number: usize| i64::try_from(number).unwrap_or(i64::MAX);
    vec![
        Column::new(
            "line",
            list.iter().map(|r| whole(r.line)).collect::<Vec<_>>(),
        ),
        Column::new("log_time_s", numbers(&|i| list[i].time_s)),
        Column::new("time_s", numbers(&|i| since_interface(learned, i))),
        Column::new(
            "instrument",
            list.iter()
                .map(|r| r.channel.words().to_owned())
                .collect::<Vec<_>>(),
        ),
        Column::new("measured_si", numbers(&|i| list[i].value)),
        Column::new("flown_si", numbers(&|i| fitted.flown[i])),
        Column::new("residual_si", numbers(&|i| fitted.residuals[i] * noise(i))),
        Column::new("residual_sigmas", numbers(&|i| fitted.residuals[i])),
        Column::new(
            "fitted",
            learned
                .used
                .iter()
                .map(|used| i64::from(*used))
                .collect::<Vec<_>>(),
        ),
    ]
}

fn figure(case: &Case, learned: &Learned) -> Residuals {
    let instruments = Channel::ALL.into_iter().filter_map(|channel| {
        let noise = learned.readings.noise[channel as usize];
        let of = |used: bool| -> Vec<(f64, f64)> {
            (0..learned.used.len())
                .filter(|&i| learned.readings.list[i].channel == channel && learned.used[i] == used)
                .map(|i| {
                    (
                        since_interface(learned, i),
                        learned.fitted.residuals[i] * noise,
                    )
                })
                .filter(|(_, residual)| residual.is_finite())
                .collect()
        };
        let instrument = Instrument {
            title: format!("{}, {}", channel.words(), channel.unit()),
            fitted: of(true),
            left_out: of(false),
            noise,
        };
        (!instrument.fitted.is_empty()).then_some(instrument)
    });
    let left_out = if learned.used.contains(&false) {
        "; orange: left out, at the edge where farther off"
    } else {
        ""
    };
    Residuals {
        title: case.scenario.title.clone(),
        note: format!(
            "what the fit leaves of the log; aimed at {:.3} km over {}{left_out}",
            learned.options.aim_m / 1e3,
            case.world.body().name
        ),
        instruments: instruments.collect(),
    }
}

fn page(
    case: &Case,
    learned: &Learned,
    (residuals, next): (&Residuals, &str),
    facts: &RunFacts,
) -> Result<Page, ReportError> {
    let table = |caption: &str, grid| Block::Table {
        caption: caption.to_owned(),
        grid,
    };
    let drawn: &dyn Figure = residuals;
    let mut fit = vec![
        Block::figure(drawn)?,
        table("The instruments", learn_text::instruments(learned)),
    ];
    if !learned.remarks.is_empty() {
        fit.push(Block::Text("Found in the log, and handled:".to_owned()));
        fit.push(Block::List(learned.remarks.clone()));
    }
    let mut sections = vec![
        Section {
            heading: "What is known of ship and air".to_owned(),
            blocks: vec![
                table(
                    "Middle and standard deviation",
                    learn_text::quantities(learned),
                ),
                Block::Text(learn_text::apart(learned)),
            ],
        },
        Section {
            heading: "The uncertain numbers of the scenario".to_owned(),
            blocks: vec![
                table(
                    "Middle and standard deviation; delivery and arrival are those of the flown pass alone",
                    learn_text::numbers(case, learned),
                ),
                table(
                    "Correlations of the estimates",
                    learn_text::correlations(learned),
                ),
            ],
        },
        Section {
            heading: "How well the flight fits the log".to_owned(),
            blocks: fit,
        },
        Section {
            heading: "The scenario of the next pass".to_owned(),
            blocks: vec![Block::Preformatted(next.to_owned())],
        },
    ];
    sections.extend(closing(case, facts));
    Ok(Page {
        title: case.scenario.title.clone(),
        lead: learn_text::answer(learned),
        tone: if learned.doubts.is_empty() {
            Tone::Plain
        } else {
            Tone::Bad
        },
        sections,
    })
}
