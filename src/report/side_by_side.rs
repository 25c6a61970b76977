//! Finished runs side by side: what each says of itself in words, tables, curves and spreads, how one differs from
//! another, and the sentence that says so. A is the first of them.

use super::finished::{Finished, FinishedError, READ, metres};
use super::folder::sha256;
use super::grid::Grid;
use super::number::{MISSING, percent, trimmed};
use super::plot::lines::{Lines, Series};
use super::plot::spreads::{Spread, Spreads};
use crate::ensemble::interval::Interval;
use crate::ensemble::quantile::Estimate;
use crate::scenario::Scenario;
use crate::scenario::visible::visible;
use crate::study::compare::{Compared, Edges, Flown, Told, compare, same_luck};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// What is told of every run side by side: in words, and where its summary has it.
const LINES: [(&str, &str); 17] = [
    ("verdict", "/verdict"),
    ("band from, km", "/safe_periapsis_band_km/low"),
    ("set by", "/safe_periapsis_band_km/low_limit"),
    ("band to, km", "/safe_periapsis_band_km/high"),
    ("set by", "/safe_periapsis_band_km/high_limit"),
    ("aim to take, km", "/recommended_periapsis_km"),
    ("holds there", "/probability_at_recommended/estimate"),
    ("at least", "/probability_at_recommended/lower"),
    ("asked for", "/required_probability"),
    (
        "deceleration, g: median",
        "/at_recommended/peak_deceleration_g/p50/value",
    ),
    ("95 %", "/at_recommended/peak_deceleration_g/p95/value"),
    (
        "heat flux, W/cm²: median",
        "/at_recommended/peak_heat_flux_w_cm2/p50/value",
    ),
    ("95 %", "/at_recommended/peak_heat_flux_w_cm2/p95/value"),
    (
        "heat load, J/cm²: median",
        "/at_recommended/heat_load_j_cm2/p50/value",
    ),
    ("95 %", "/at_recommended/heat_load_j_cm2/p95/value"),
    ("samples", "/samples"),
    ("seed", "/seed"),
];

const COPIED: &str = "study scenario world seed samples required_probability confidence verdict safe_periapsis_band_km \
                      recommended_periapsis_km probability_at_recommended told_by_samples limits at_recommended";

/// How a run differs from another: at the aims to take, and at a common aim (m) of their searches.
pub type Differences = (Compared, Option<(f64, Compared)>);

/// What a run says of itself, for people and for comparisons.
impl Finished {
    /// Reads several runs, each of another folder.
    ///
    /// # Errors
    /// As [`Finished::read`], and when a folder is given twice.
    pub fn all(folders: &[PathBuf]) -> Result<Vec<Self>, FinishedError> {
        let mut runs: Vec<Self> = Vec::new();
        for folder in folders {
            let place =
                |path: &Path| std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
            if runs.iter().any(|run| place(&run.folder) == place(folder)) {
                let message = format!("{} is given twice", folder.display());
                return Err(FinishedError::other(
                    message,
                    "name runs of different folders",
                ));
            }
            runs.push(Self::read(folder)?);
        }
        Ok(runs)
    }

    /// How it differs from the first run: at the aims to take, and at a common aim (m) of their searches.
    ///
    /// # Errors
    /// [`FinishedError`] when its numbers allow no interval.
    pub fn against(&self, first: &Self) -> Result<Differences, FinishedError> {
        let uncertain = |run: &Self| Some(Scenario::from_document(&run.scenario).ok()?.uncertainty);
        let luck = uncertain(first).zip(uncertain(self));
        let alike =
            luck.is_some_and(|(a, b)| same_luck(&a, &b)) && first.version() == self.version();
        let path = self.folder.join("summary.json");
        let between = |a: &Told, b: &Told| {
            let found = compare((a, b), alike, first.confidence());
            found.map_err(|error| {
                FinishedError::broken(&path, &format!("allows no interval: {error}"))
            })
        };
        let common = first.common_aim(self).map(|(aim_m, a, b)| {
            let of = |run: &Self, flown: &[Flown]| {
                let held = flown.iter().filter(|one| one.held).count() as u64;
                Told {
                    samples: 0..flown.last().map_or(0, |last| last.sample + 1),
                    held,
                    own: run.told.is_certain().then(|| Interval::certain(held > 0)),
                    flown: flown.to_vec(),
                    ..run.told.clone()
                }
            };
            Ok((aim_m, between(&of(first, a), &of(self, b))?))
        });
        Ok((between(&first.told, &self.told)?, common.transpose()?))
    }

    /// Of the aims that both searches flew and kept the one nearest to the two to take, m, with its samples.
    fn common_aim<'r>(&'r self, other: &'r Self) -> Option<(f64, &'r [Flown], &'r [Flown])> {
        let middle = f64::midpoint(self.aim_m()?, other.aim_m()?);
        let both = self.search.iter().filter_map(|(aim, flown)| {
            Some((
                metres(*aim),
                flown.as_slice(),
                other.search.get(aim)?.as_slice(),
            ))
        });
        both.min_by(|a, b| (a.0 - middle).abs().total_cmp(&(b.0 - middle).abs()))
    }

    /// How much wider its safe band is than that of the first run, km.
    #[must_use]
    pub fn wider(&self, first: &Self) -> Option<Estimate> {
        Some(Edges::wider(&first.edges()?, &self.edges()?))
    }

    /// The confidence of its intervals.
    #[must_use]
    pub fn confidence(&self) -> f64 {
        self.summary["confidence"].as_f64().unwrap_or(0.95)
    }

    /// The probability it was asked for.
    #[must_use]
    pub fn required(&self) -> f64 {
        self.summary["required_probability"].as_f64().unwrap_or(1.0)
    }

    /// The probability of holding at its aim.
    #[must_use]
    pub fn probability(&self) -> f64 {
        let of = &self.summary["probability_at_recommended"]["estimate"];
        of.as_f64().unwrap_or_default()
    }

    /// Its safe band, if it has one.
    #[must_use]
    pub fn edges(&self) -> Option<Edges> {
        let band = &self.summary["safe_periapsis_band_km"];
        let known = |side: &str| {
            let set_by = band[format!("{side}_limit")].as_str()?;
            let open = ["range_of_aims", "no_result"].contains(&set_by);
            band[format!("{side}_uncertainty")]
                .as_f64()
                .filter(|_| !open)
        };
        Some(Edges {
            low_km: band["low"].as_f64()?,
            high_km: band["high"].as_f64()?,
            low_uncertainty_km: known("low"),
            high_uncertainty_km: known("high"),
        })
    }

    /// Aim (km) against the probability that not every limit holds, as its search counted it.
    #[must_use]
    pub fn not_held(&self) -> Vec<(f64, f64)> {
        let aims = self.summary["aims"].as_array().into_iter().flatten();
        let at = |aim: &Value| {
            let held = aim["probability_held"]["estimate"].as_f64()?;
            Some((aim["periapsis_km"].as_f64()?, 1.0 - held))
        };
        let mut points: Vec<(f64, f64)> = aims.filter_map(at).collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        points
    }

    /// What its summary has at a JSON pointer, for people.
    #[must_use]
    pub fn shown(&self, pointer: &str) -> String {
        match self.summary.pointer(pointer) {
            Some(Value::Number(number)) => {
                let value = number.as_f64().unwrap_or_default();
                let share = pointer.contains("probability");
                if share {
                    percent(value)
                } else {
                    trimmed(value, 5)
                }
            }
            Some(Value::String(text)) => visible(text).replace('_', " "),
            _ => MISSING.to_owned(),
        }
    }

    /// The folder as it was named.
    #[must_use]
    pub fn name(&self) -> String {
        visible(&self.folder.display().to_string())
    }

    /// The version of the program that flew it.
    #[must_use]
    pub fn version(&self) -> String {
        visible(
            self.manifest["program"]["version"]
                .as_str()
                .unwrap_or("unknown"),
        )
    }

    /// Its world, with what tells one file of a world from another.
    #[must_use]
    pub fn world(&self) -> String {
        let hash = self.manifest["data"][0]["sha256"]
            .as_str()
            .unwrap_or_default();
        let hash: String = hash.chars().take(8).collect();
        format!("{} ({})", self.shown("/world"), visible(&hash))
    }

    /// The verdict on a limit by its name, with what is allowed.
    #[must_use]
    pub fn limit(&self, name: &str) -> String {
        let limits = self.summary["limits"].as_array();
        let place = limits.and_then(|all| all.iter().position(|limit| limit["name"] == name));
        place.map_or(MISSING.to_owned(), |place| {
            let of = |key: &str| self.shown(&format!("/limits/{place}/{key}"));
            format!("{}: {}", of("allowed"), of("verdict"))
        })
    }
}

/// A name for several runs: what their folders do not have in common, short enough for a folder's name.
#[must_use]
pub fn together(runs: &[Finished]) -> String {
    let parts = |run: &Finished| -> Vec<String> {
        run.folder
            .iter()
            .map(|part| part.to_string_lossy().into_owned())
            .collect()
    };
    let all: Vec<Vec<String>> = runs.iter().map(parts).collect();
    let fewest = all.iter().map(Vec::len).min().unwrap_or(0);
    let alike =
        |at: &dyn Fn(&Vec<String>) -> Option<String>| all.iter().all(|one| at(one) == at(&all[0]));
    let front = (0..fewest)
        .take_while(|&i| alike(&|one| one.get(i).cloned()))
        .count();
    let back = (1..=fewest - front)
        .take_while(|&i| alike(&|one| one.get(one.len() - i).cloned()))
        .count();
    let name = |one: &Vec<String>| one[front..one.len() - back].join("-");
    let names: Vec<String> = all.iter().map(name).collect();
    let name = names.join("-vs-");
    if names.iter().all(|name| !name.is_empty()) && name.chars().count() <= 60 {
        return name;
    }
    let folders: Vec<String> = runs.iter().map(Finished::name).collect();
    format!(
        "{}-{}",
        name.chars().take(60).collect::<String>(),
        &sha256(folders.join("\n").as_bytes())[..8]
    )
}

/// What every run says of itself, a column a run; the limits by their names.
#[must_use]
pub fn side_by_side(runs: &[Finished]) -> Grid {
    let mut grid = columns("", runs);
    for (label, pointer) in LINES {
        let each = runs.iter().map(|run| run.shown(pointer));
        grid.row([label.to_owned()].into_iter().chain(each));
    }
    let names = runs.iter().flat_map(|run| {
        let limits = run.summary["limits"].as_array().into_iter().flatten();
        limits.filter_map(|limit| limit["name"].as_str())
    });
    let mut seen: Vec<&str> = Vec::new();
    for name in names {
        if !seen.contains(&name) {
            seen.push(name);
            let each = runs.iter().map(|run| run.limit(name));
            grid.row([visible(name)].into_iter().chain(each));
        }
    }
    grid
}

/// The letter of a run: A is the first.
#[must_use]
pub fn letter(place: usize) -> String {
    char::from(b'A' + u8::try_from(place.min(25)).unwrap_or(25)).to_string()
}

/// The probability of breaking a limit against the aim, of every run.
#[must_use]
pub fn curves(runs: &[Finished]) -> Lines {
    let aims = runs.iter().enumerate().filter_map(|(i, run)| {
        let name = format!(
            "{} aims for {} km",
            letter(i),
            run.shown("/recommended_periapsis_km")
        );
        Some((name, run.aim_m()? / 1e3))
    });
    let series = runs.iter().enumerate().map(|(i, run)| Series {
        name: letter(i),
        points: run.not_held(),
        limit_key: String::new(),
    });
    let allowed = 1.0 - runs[0].required();
    Lines {
        title: "Probability of breaking a limit against the aim".to_owned(),
        note: "as each run's search counted it, by its own limits".to_owned(),
        x_title: "aim periapsis altitude, km".to_owned(),
        y_title: "probability that not every limit holds".to_owned(),
        probability: true,
        series: series.collect(),
        levels: vec![(format!("A allows {}", percent(allowed)), allowed)],
        places: aims.collect(),
        ..Lines::default()
    }
}

/// How a quantity is spread in every run that kept its rows.
#[must_use]
pub fn spread(runs: &[Finished], place: usize) -> Spreads {
    let (label, unit) = READ[place].label();
    let series = runs.iter().enumerate().map(|(i, run)| Spread {
        name: letter(i),
        values: run
            .told
            .flown
            .iter()
            .filter_map(|one| one.values[place])
            .collect(),
    });
    let series: Vec<Spread> = series.filter(|run| !run.values.is_empty()).collect();
    Spreads {
        title: format!("How {label} is spread, each run at its own aim"),
        quantity: label.to_owned(),
        unit: unit.to_owned(),
        series,
        target: None,
    }
}

/// The difference in another unit, or the other way round.
#[must_use]
pub fn scaled(found: &Estimate, factor: f64) -> Estimate {
    Estimate {
        value: factor * found.value,
        lower: found.lower.map(|end| factor * end),
        upper: found.upper.map(|end| factor * end),
    }
}

/// Value and ends for people.
#[must_use]
pub fn ends(found: &Estimate) -> [String; 3] {
    let ends = [Some(found.value), found.lower, found.upper];
    ends.map(|end| end.map_or(MISSING.to_owned(), |end| trimmed(end, 3)))
}

/// Which of A and the run of this name it is, and by how much.
#[must_use]
pub fn sentence(name: &str, what: &str, (found, unit): (&Estimate, &str), how: &str) -> String {
    let (low, high) = (
        found.lower.unwrap_or(f64::MIN),
        found.upper.unwrap_or(f64::MAX),
    );
    let more = if low > 0.0 {
        *found
    } else {
        scaled(found, -1.0)
    };
    let [value, from, to] = ends(&more);
    if low > 0.0 {
        return format!("{name} {what}, by {value} {unit} ({from} to {to} {how}).");
    }
    if high < 0.0 {
        return format!("A {what}, by {value} {unit} ({to} to {from} {how}).");
    }
    let [value, from, to] = ends(found);
    let shown = if low == high {
        "Neither of"
    } else {
        "It is not shown which of"
    };
    format!("{shown} A and {name} {what}: {name} less A {value} {unit} ({from} to {to} {how}).")
}

/// What a summary says of a run, and where it is.
#[must_use]
pub fn summary((place, run): (usize, &Finished)) -> Value {
    let mut all = json!({ "run": letter(place), "folder": run.name(), "version": run.version() });
    for key in COPIED.split_whitespace() {
        all[key] = run.summary[key].clone();
    }
    all
}

/// A table with a column a run.
#[must_use]
pub fn columns(title: &str, runs: &[Finished]) -> Grid {
    (0..runs.len())
        .map(letter)
        .fold(Grid::new().words(title), Grid::words)
}

/// What is told of a difference: its key, in words, and the difference in the unit shown.
#[must_use]
pub fn differences(found: &Compared) -> Vec<(String, String, Estimate)> {
    let of = if found.pairs.is_some() {
        "of the differences"
    } else {
        "(quantiles)"
    };
    let held = scaled(&found.held, 100.0);
    let mut all = vec![(
        "probability_held_points".to_owned(),
        "probability of holding, points".to_owned(),
        held,
    )];
    for (quantity, spread) in READ.iter().zip(found.spreads) {
        let ((label, unit), key) = (quantity.label(), quantity.key());
        all.extend(spread.into_iter().flat_map(|(middle, high)| {
            [("p50", "median", middle), ("p95", "95 %", high)].map(|(short, share, found)| {
                let words = format!("{label}, {share} {of}, {unit}");
                (format!("{key}_{short}"), words, found)
            })
        }));
    }
    all
}

/// Something that a run says.
pub type Said<'s> = &'s dyn Fn(&Finished) -> String;

/// Every run's letter with something of it.
#[must_use]
pub fn each(runs: &[Finished], of: Said) -> String {
    let named = |(i, run)| format!("{} {}", letter(i), of(run));
    runs.iter()
        .enumerate()
        .map(named)
        .collect::<Vec<_>>()
        .join(", ")
}

/// Whose safe band is wider, of A and the run of this name.
#[must_use]
pub fn bands(name: &str, (a, b): (&Finished, &Finished)) -> String {
    match (a.edges(), b.edges(), b.wider(a)) {
        (Some(a), Some(b), Some(wider)) => {
            let (of_a, of_b) = (a.width_km(), b.width_km());
            let what = format!("has the wider safe band (A {of_a:.3} km, {name} {of_b:.3} km)");
            let how = "km by how far outward the edges may lie";
            sentence(name, &what, (&wider, "km"), how)
        }
        (Some(_), _, _) => format!("A has a safe band, {name} has none."),
        (_, Some(_), _) => format!("{name} has a safe band, A has none."),
        _ => format!("Neither A nor {name} has a safe band."),
    }
}

/// Which of A and the run of this name is likelier to hold at its aim, and how that is known.
#[must_use]
pub fn holds(name: &str, (a, b): (&Finished, &Finished), found: &Compared) -> String {
    let [at_a, at_b] = [a, b].map(|run| percent(run.probability()));
    let what = format!("is likelier to hold at its aim (A {at_a}, {name} {at_b})");
    let confidence = percent(a.confidence());
    let how = format!("with {confidence} confidence, {}", found.words());
    let points = (&scaled(&found.held, 100.0), "percentage points");
    sentence(name, &what, points, &how)
}

/// What a scenario writes at a key, short enough for a sentence.
#[must_use]
pub fn clipped(value: &Option<String>) -> String {
    let value = value.as_deref().unwrap_or(MISSING);
    match value.char_indices().nth(40) {
        Some((end, _)) => format!("{} ...", &value[..end]),
        None => value.to_owned(),
    }
}
