//! The page of a band study, put together from its results and figures.

use super::band_figures::{break_curves, distribution, ribbons};
use super::band_text;
use super::closing::closing;
use super::error::ReportError;
use super::figure::Figure;
use super::folder::RunFacts;
use super::grid::{Cell, Grid, Tone};
use super::limit_words::{broken_words, value_text};
use super::live::LiveLimits;
use super::number::{count, percent};
use super::page::{Block, Page, Section};
use super::plot::break_curves::BreakCurves;
use super::plot::distribution::Distribution;
use super::plot::ribbons::Ribbons;
use super::plot::spreads::Spreads;
use super::steered::{comparison, spreads};
use super::whole::real;
use crate::ensemble::interval::Interval;
use crate::pass::Ending;
use crate::study::Case;
use crate::study::band::BandResult;
use crate::study::held::Held;
use crate::study::live::Live;
use crate::study::outcome::{Outcome, Quantity, deceleration_ribbons};
use crate::study::rare::Accidents;
use crate::study::verdicts::Verdicts;

/// Flights behind the ribbons.
const RIBBON_FLIGHTS: u64 = 400;

/// The figures of a band study.
pub(super) struct BandFigures {
    break_probability: BreakCurves,
    peak_deceleration: Distribution,
    deceleration_over_time: Ribbons,
    peak_heat_flux: Distribution,
    heat_load: Distribution,
    /// Of a steered ship beside the one that holds its bank.
    steered_and_held: Option<Spreads>,
}

impl BandFigures {
    /// Takes the figures from the results; the ribbons are flown here.
    pub(super) fn draw(
        case: &Case,
        (result, outcome, held): (&BandResult, &Outcome, Option<&Held>),
    ) -> Self {
        let told_by = &result.told_by;
        let some = told_by.start..told_by.end.min(told_by.start + RIBBON_FLIGHTS);
        let flown = deceleration_ribbons(&case.problem, result.recommended.aim_m, some);
        let spread = |quantity| distribution(case, outcome, quantity);
        Self {
            break_probability: break_curves(case, result, held),
            peak_deceleration: spread(Quantity::PeakDeceleration),
            deceleration_over_time: ribbons(case, result.recommended.aim_m, &flown),
            peak_heat_flux: spread(Quantity::PeakHeatFlux),
            heat_load: spread(Quantity::HeatLoad),
            steered_and_held: held.and_then(|held| spreads(case, outcome, held)),
        }
    }

    /// The figures with the names of their files.
    pub(super) fn named(&self) -> Vec<(&'static str, &dyn Figure)> {
        let mut named: Vec<(&'static str, &dyn Figure)> = vec![
            ("break_probability", &self.break_probability),
            ("peak_deceleration", &self.peak_deceleration),
            ("deceleration_over_time", &self.deceleration_over_time),
            ("peak_heat_flux", &self.peak_heat_flux),
            ("heat_load", &self.heat_load),
        ];
        if let Some(spreads) = &self.steered_and_held {
            named.push(("steered_and_held", spreads));
        }
        named
    }
}

/// The page.
pub(super) fn page(
    case: &Case,
    (result, outcome, held): (&BandResult, &Outcome, Option<&Held>),
    (figures, live, facts): (&BandFigures, Option<&Live>, &RunFacts),
) -> Result<Page, ReportError> {
    let section = |heading: &str, blocks: Vec<Block>| Section {
        heading: heading.to_owned(),
        blocks,
    };
    let verdicts = band_text::verdicts(case, result, outcome);
    let mut sections = vec![section(
        "Where to aim",
        vec![Block::figure(&figures.break_probability)?],
    )];
    if let (Some(held), Some(spreads)) = (held, &figures.steered_and_held) {
        sections.push(section(
            "What steering is worth",
            vec![
                Block::Text(comparison(case, outcome, held)),
                Block::figure(spreads)?,
            ],
        ));
    }
    if let Some(live) = live {
        let limits = LiveLimits::new(case, result, (live, &facts.command));
        sections.push(section(
            "If the limits were others",
            vec![Block::Live(Box::new(limits))],
        ));
    }
    sections.extend([
        key_numbers(case, outcome),
        section(
            "What the people feel",
            vec![
                Block::figure(&figures.peak_deceleration)?,
                Block::figure(&figures.deceleration_over_time)?,
            ],
        ),
        section(
            "What the skin takes",
            vec![
                Block::figure(&figures.peak_heat_flux)?,
                Block::figure(&figures.heat_load)?,
            ],
        ),
        outcomes(outcome),
    ]);
    sections.push(match super::rare::at_recommended(result) {
        Some(accidents) => rare_accidents(case, accidents),
        None => limits(case, outcome, verdicts.as_ref()),
    });
    sections.extend(closing(case, facts));
    Ok(Page {
        title: case.scenario.title.clone(),
        lead: band_text::answer(case, result, verdicts.as_ref()),
        tone: band_text::tone(result, verdicts.as_ref()),
        sections,
    })
}

fn samples_of(outcome: &Outcome) -> String {
    match outcome.tally.samples {
        1 => "1 sample".to_owned(),
        many => format!("{} samples", count(many)),
    }
}

fn key_numbers(case: &Case, outcome: &Outcome) -> Section {
    Section {
        heading: format!("At {:.2} km", outcome.aim_m / 1e3),
        blocks: vec![Block::Table {
            caption: samples_of(outcome),
            grid: band_text::quantities(case, outcome),
        }],
    }
}

fn outcomes(outcome: &Outcome) -> Section {
    let mut grid = Grid::new()
        .words("the pass")
        .numbers("samples")
        .numbers("share");
    for (ending, number) in Ending::ALL.iter().zip(outcome.tally.endings) {
        let (words, tone) = match ending {
            Ending::Captured => ("leaves the air on a closed orbit", Tone::Plain),
            Ending::Escaped => ("leaves the air and the planet", Tone::Plain),
            Ending::Landed => ("comes down", Tone::Plain),
            Ending::OutOfTime => ("is still in the air when the time is over", Tone::Plain),
            Ending::Failed => ("could not be integrated (counts as not held)", Tone::Bad),
            Ending::NoApproach => (
                "is of no arrival: the numbers fit no approach (counts as not held)",
                Tone::Bad,
            ),
        };
        let tone = if number > 0 { tone } else { Tone::Plain };
        let share = percent(real(number) / real(outcome.tally.samples.max(1)));
        grid.row([
            Cell::new(words, tone),
            Cell::from(count(number)),
            Cell::from(share),
        ]);
    }
    Section {
        heading: "How the passes end".to_owned(),
        blocks: vec![Block::Table {
            caption: format!("{} at {:.2} km", samples_of(outcome), outcome.aim_m / 1e3),
            grid,
        }],
    }
}

fn rare_accidents(case: &Case, accidents: &Accidents) -> Section {
    Section {
        heading: "Rare accidents at the recommended aim".to_owned(),
        blocks: vec![
            Block::Table {
                caption: super::rare::caption(case, accidents),
                grid: super::rare::table(case, accidents),
            },
            Block::Text(
                "So rare an accident is not met in a sample of arrivals. It was searched for: from the passes that \
                 come nearest to breaking a limit others were varied, level by level, each of which a tenth of those \
                 before it reach. Ten independent searches give the interval. An accident that does not \
                 announce itself by nearing its limit can be missed by such a search, and rests on the \
                 tails of the distributions that the scenario states."
                    .to_owned(),
            ),
        ],
    }
}

fn limits(case: &Case, outcome: &Outcome, verdicts: Option<&Verdicts>) -> Section {
    let mut grid = Grid::new()
        .words("broken when")
        .words("allowed")
        .numbers("broken")
        .numbers("chance")
        .numbers("at most")
        .words("verdict");
    let entries = case.problem.limits().entries();
    for (limit, &broken) in entries.iter().zip(&outcome.tally.broken) {
        let interval =
            Interval::clopper_pearson(broken, outcome.tally.samples, case.scenario.ask.confidence);
        let (chance, most) = interval.map_or((f64::NAN, f64::NAN), |i| (i.estimate, i.upper));
        let tone = band_text::broken_tone(case, (broken, outcome.tally.samples));
        grid.row([
            Cell::from(broken_words(case, limit.kind)),
            Cell::from(value_text(limit.kind, limit.allowed)),
            Cell::new(count(broken), tone),
            Cell::new(percent(chance), tone),
            Cell::from(percent(most)),
            band_text::verdict_cell(verdicts, limit.kind),
        ]);
    }
    super::unflown::row(&mut grid, &outcome.tally, |number, share| {
        vec![
            Cell::from(""),
            number,
            share,
            Cell::from(""),
            Cell::from(""),
        ]
    });
    let all = verdicts.map_or_else(String::new, |verdicts| {
        format!("all together: {}; ", verdicts.all.words())
    });
    Section {
        heading: "Limits at the recommended aim".to_owned(),
        blocks: vec![Block::Table {
            caption: format!(
                "{all}with {} confidence",
                percent(case.scenario.ask.confidence)
            ),
            grid,
        }],
    }
}
