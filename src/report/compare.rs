//! `compare`: finished runs side by side. [`Finished`] reads them and [`crate::study::compare`] has their differences; here
//! are the words, tables, figures, summary and page. A, the first run, is what the others are held against.

use super::answer::{Answer, Part};
use super::error::ReportError;
use super::finished::{Finished, FinishedError, READ};
use super::folder::{RunFacts, RunFolder, slug};
use super::grid::{Grid, Tone};
use super::number::{MISSING, percent, trimmed};
use super::side_by_side::{
    Differences, Said, bands, clipped, columns, curves, differences, each, ends, holds, letter,
    side_by_side, spread, summary, together,
};
use crate::ensemble::quantile::Estimate;
use crate::study::compare::{Compared, Differing, differing};
use serde_json::{Map, Value, json};
use std::path::{Path, PathBuf};

const METHODS: [&str; 5] = [
    "Differences are those of the later run less A's, each at its own aim to take, by its own limits and verdicts.",
    "Probability of holding: of paired samples Newcombe, Stat. Med. 17 (1998) 2635, of independent ones Newcombe, Stat. Med. 17 (1998) 873, method 10 of both; of rare accidents the runs' own intervals, squared and added.",
    "Peaks and loads: of paired samples order statistics of the differences sample by sample (their median is not the difference of the medians); else the two runs' intervals, squared and added (Zou and Donner, Stat. Med. 27 (2008) 1693).",
    "Width of the band: by how far outward the edges of each may truly lie. These are bounds, not an interval of the confidence; there is none where the range of aims ends a band.",
    "A common aim is told by the samples of the search: of the aims that both flew and kept, the one nearest to the two to take.",
];

/// Runs side by side.
#[derive(Debug)]
pub struct Comparison {
    runs: Vec<Finished>,
    others: Vec<Differences>,
    scenario: Vec<Differing>,
}

impl Comparison {
    /// Reads and compares the runs of these folders, two or more.
    ///
    /// # Errors
    /// [`FinishedError`]: a folder holds no finished run or is given twice, or its files do not agree.
    pub fn of(folders: &[PathBuf]) -> Result<Self, FinishedError> {
        let runs = Finished::all(folders)?;
        let others = runs.iter().skip(1).map(|run| run.against(&runs[0]));
        let others = others.collect::<Result<_, _>>()?;
        let trees: Vec<_> = runs.iter().map(|run| run.scenario.tree()).collect();
        let scenario = differing(&trees);
        Ok(Self {
            runs,
            others,
            scenario,
        })
    }

    /// The answer: whose band is wider, which run is likelier to hold, by how much, and what differs.
    #[must_use]
    pub fn lead(&self) -> String {
        let mut words: Vec<String> = (1..self.runs.len()).map(|i| self.against(i)).collect();
        let verdicts = each(&self.runs, &|run| run.shown("/verdict"));
        let short = verdicts.contains("not covered");
        let covered = ["", "; what is not covered is in no probability"][usize::from(short)];
        words.push(format!("Verdicts: {verdicts}{covered}."));
        let keys = self.scenario.iter().take(3).map(|(key, values)| {
            let values = values.iter().map(clipped);
            format!("{key} ({})", values.collect::<Vec<_>>().join(", "))
        });
        let keys = keys.collect::<Vec<_>>().join(", ");
        words.push(match self.scenario.len() {
            0 => "Their scenarios say the same.".to_owned(),
            1..=3 => format!("Their scenarios differ in {keys}."),
            all => format!("Their scenarios differ in {keys} and {} more.", all - 3),
        });
        words.join(" ")
    }

    fn against(&self, place: usize) -> String {
        let (a, b, name) = (&self.runs[0], &self.runs[place], letter(place));
        let found = &self.others[place - 1].0;
        let pair = (a, b);
        format!("{} {}", bands(&name, pair), holds(&name, pair, found))
    }

    /// What keeps the runs from standing beside each other as they seem to.
    fn remarks(&self) -> Vec<String> {
        let of: [(&str, Said); 5] = [
            ("Each run is told at its own aim, km", &|run| {
                run.shown("/recommended_periapsis_km")
            }),
            ("The worlds differ", &Finished::world),
            ("The versions of the program differ", &Finished::version),
            ("The probabilities asked for differ", &|run| {
                run.shown("/required_probability")
            }),
            (
                "The confidences differ; differences are told with A's",
                &|run| percent(run.confidence()),
            ),
        ];
        let differ = of
            .iter()
            .filter(|(_, of)| self.runs.iter().any(|run| of(run) != of(&self.runs[0])));
        let mut all: Vec<String> = differ
            .map(|(what, of)| format!("{what}: {}.", each(&self.runs, of)))
            .collect();
        let mut keys = self.scenario.iter();
        if keys.any(|(key, _)| key.starts_with("limits.")) {
            all.push("The limits differ: to hold does not mean the same in these runs.".to_owned());
        }
        let why = self.others.iter().enumerate();
        all.extend(why.filter_map(|(i, (found, _))| {
            Some(format!("{} against A: {}", letter(i + 1), found.remark()?))
        }));
        all
    }

    fn differences_grid(&self) -> Grid {
        let heads = ["value", "from", "to"];
        let grid = Grid::new().words("less A");
        let mut grid = heads.iter().fold(grid, |grid, &head| grid.numbers(head));
        for (i, (found, common)) in self.others.iter().enumerate() {
            let name = letter(i + 1);
            let mut add = |at: &str, what: &str, found: &Estimate| {
                let [value, low, high] = ends(found);
                grid.row([format!("{name}{at}: {what}"), value, low, high]);
            };
            if let Some(wider) = self.runs[i + 1].wider(&self.runs[0]) {
                add("", "width of the band, km", &wider);
            }
            for (_, what, found) in differences(found) {
                add("", &what, &found);
            }
            if let Some((aim_m, found)) = common {
                let at = format!(" at {} km", trimmed(aim_m / 1e3, 6));
                for (_, what, found) in differences(found) {
                    add(&at, &what, &found);
                }
            }
        }
        grid
    }

    /// All of it, for every medium.
    #[must_use]
    pub fn answer(&self) -> Answer {
        let mut list = Grid::new().words("run").words("folder").words("scenario");
        for (i, run) in self.runs.iter().enumerate() {
            list.row([letter(i), run.name(), run.shown("/scenario")]);
        }
        let mut keys = columns("key", &self.runs);
        for (key, values) in &self.scenario {
            let values = values
                .iter()
                .map(|v| v.clone().unwrap_or(MISSING.to_owned()));
            keys.row([key.clone()].into_iter().chain(values));
        }
        let mut parts = vec![
            Part::Table("The runs", list),
            Part::Figure("probability".to_owned(), Box::new(curves(&self.runs))),
            Part::Table("Side by side", side_by_side(&self.runs)),
            Part::Table("By how much they differ", self.differences_grid()),
            Part::Remarks("What keeps them apart", self.remarks()),
            Part::Table("What differs in the scenarios", keys),
        ];
        for (place, quantity) in READ.iter().enumerate() {
            let figure = spread(&self.runs, place);
            if !figure.series.is_empty() {
                let name = quantity.label().0.replace(' ', "_");
                parts.push(Part::Figure(name, Box::new(figure)));
            }
        }
        let methods = METHODS.map(str::to_owned).to_vec();
        parts.push(Part::Notes("How the differences are told", methods));
        Answer {
            title: format!(
                "Compared: {}",
                each(&self.runs, &|run| run.shown("/scenario"))
            ),
            lead: self.lead(),
            tone: Tone::Plain,
            parts,
            summary: self.summary(),
        }
    }

    fn summary(&self) -> Value {
        let values = |found: &Compared| {
            let each = differences(found)
                .into_iter()
                .map(|(key, _, found)| (key, json!(found)));
            let all: Map<String, Value> = each.collect();
            json!({ "draws": found.draws.key(), "paired": found.held_is_paired, "pairs": found.pairs, "values": all })
        };
        let other = |(i, (found, common)): (usize, &Differences)| {
            let common = common.as_ref().map(|(aim_m, found)| {
                json!({ "periapsis_km": aim_m / 1e3, "differences": values(found) })
            });
            json!({
                "run": letter(i + 1),
                "less": "A",
                "band_width_km": self.runs[i + 1].wider(&self.runs[0]),
                "at_recommended": values(found),
                "at_common_aim": common,
            })
        };
        let keys = self
            .scenario
            .iter()
            .map(|(key, values)| json!({ "key": key, "values": values }));
        json!({
            "study": "compare",
            "scenario": self.runs[0].summary["scenario"],
            "confidence": self.runs[0].confidence(),
            "runs": self.runs.iter().enumerate().map(summary).collect::<Vec<_>>(),
            "differences": self.others.iter().enumerate().map(other).collect::<Vec<_>>(),
            "scenarios_differ_in": keys.collect::<Vec<_>>(),
            "remarks": self.remarks(),
            "methods": METHODS,
        })
    }

    /// Where its files go: `compare/<runs>/` under `base`.
    #[must_use]
    pub fn folder(&self, base: &Path) -> PathBuf {
        base.join("compare").join(slug(&together(&self.runs)))
    }

    /// Writes the answer to its folder under `base`, and gives the folder's path.
    ///
    /// # Errors
    /// [`ReportError`] when the folder or a file cannot be written, or a figure not drawn.
    pub fn write(&self, answer: &Answer, base: &Path) -> Result<PathBuf, ReportError> {
        let folder = RunFolder::at(self.folder(base), "compare", "compare")?;
        let folders: Vec<String> = self.runs.iter().map(Finished::name).collect();
        let data = self
            .runs
            .iter()
            .map(|run| (run.name(), run.sha256().to_owned()));
        let facts = RunFacts {
            seed: self.runs[0].told.seed,
            data: data.collect(),
            command: format!("periband compare {}", folders.join(" ")),
            ..RunFacts::default()
        };
        answer.write(folder, &facts)
    }
}
