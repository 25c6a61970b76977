//! `periband campaign`: aerobraking over many passes, many times over.

use super::args::{CampaignArgs, Common, PassRows};
use super::exit::CliError;
use super::screen::Screen;
use super::study_run::{Answer, Kept, Place, run_study};
use super::watch::Watch;
use crate::report::campaign_files::Flown;
use crate::report::{campaign_files, campaign_summary, campaign_tables, campaign_text};
use crate::study::Case;
use crate::study::campaign::{
    CampaignError, CampaignOutcome, KEPT_CAMPAIGNS, fly_case, warm_walls,
};
use crate::study::single::SingleError;
use std::time::Instant;

/// A guess of the passes of a campaign, for the progress bar.
const PASSES: u64 = 300;

pub(super) fn run(args: &CampaignArgs, common: &Common, screen: Screen) -> Result<(), CliError> {
    super::use_threads(common.threads.map(usize::from))?;
    let options = [
        ("campaign.campaigns", args.campaigns),
        ("ask.seed", args.seed),
    ];
    let case = args.scenario.case(&options)?;
    let Some(rule) = &case.scenario.campaign else {
        return Err(CampaignError::NoCampaign.placed(&case.scenario).into());
    };
    let asked = rule.campaigns;
    let kept = match args.rows {
        PassRows::All => asked,
        PassRows::Kept | PassRows::None => KEPT_CAMPAIGNS,
    };
    let keep_passes = args.rows != PassRows::None;
    let place = Place::of(&case, &args.out.out, "campaign")?;
    run_study(&place, screen, || {
        let started = Instant::now();
        let watch = Watch::start(screen, asked.saturating_mul(PASSES));
        let flown = fly_case(&case, (asked, kept), watch.progress());
        let passes = watch.progress().flown();
        drop(watch);
        let (outcome, stopped) = match flown {
            Ok(outcome) => (outcome, false),
            Err(CampaignError::Stopped { kept }) => (*kept, true),
            Err(error) => return Err(error.placed(&case.scenario).into()),
        };
        let walls = warm_walls(&case, &outcome).map_err(SingleError::from)?;
        let seconds = started.elapsed().as_secs_f64();
        let summary =
            campaign_summary::campaign_summary(&case, rule, (&outcome, &walls), (passes, seconds));
        let mut text = Vec::new();
        if !outcome.campaigns.is_empty() {
            let terminal = Screen::terminal();
            text = vec![
                terminal.paragraph(&campaign_text::answer(&case, &outcome), 0),
                String::new(),
                campaign_tables::table(&terminal, &case, (&outcome, &walls, passes)),
            ];
        }
        let end = if stopped {
            Err(CliError::Stopped(format!(
                "stopped after {} of {} campaigns; they are kept in {}",
                outcome.campaigns.len(),
                outcome.asked,
                place.folder.display()
            )))
        } else {
            decided(&case, &outcome)
        };
        let (case, base) = (&case, &args.out.out);
        Ok(Answer {
            summary,
            text,
            keep: Box::new(move |summary| {
                let flown = Flown {
                    rule,
                    outcome: &outcome,
                    walls: &walls,
                    keep_passes,
                };
                let write = if stopped {
                    campaign_files::keep
                } else {
                    campaign_files::write
                };
                Ok(Kept::files(&write(case, &flown, (summary, base))?))
            }),
            end,
        })
    })
}

/// The error of a verdict that campaigns without a result alone decide.
fn decided(case: &Case, outcome: &CampaignOutcome) -> Result<(), CliError> {
    let ask = &case.scenario.ask;
    if outcome.is_undecided((ask.probability, ask.confidence)) {
        return Err(CliError::NoResult(format!(
            "not shown: {} of {} campaigns have no result, and these alone decide whether the target is reached with \
             every limit held at the probability asked for",
            outcome.count(|campaign| !campaign.ending.is_flown()),
            outcome.campaigns.len()
        )));
    }
    Ok(())
}
