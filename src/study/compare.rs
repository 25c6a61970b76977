//! By how much two finished runs differ, and how surely: the probability of holding, quantiles of what was flown, the
//! width of the band, and the keys in which their scenarios differ. Differences are the second run's value less the
//! first's. Where the runs share samples they are told by what each sample did in both, else as of independent samples.

use crate::ensemble::interval::{Interval, StatisticsError};
use crate::ensemble::quantile::{Estimate, Sorted};
use crate::numeric::counts::real;
use crate::numeric::dimension::Dimension;
use crate::numeric::units::parse_quantity;
use crate::scenario::uncertainty::{AirPart, Number, Uncertainty};
use crate::scenario::value::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

/// The quantities whose spreads are compared: peak deceleration, peak heat flux, heat load.
pub const QUANTITIES: usize = 3;
/// The quantile that is told beside the median.
pub const HIGH: f64 = 0.95;

/// What one sample did.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flown {
    /// Its number.
    pub sample: u64,
    /// Whether it was flown and held every limit.
    pub held: bool,
    /// The compared quantities in their order, in the unit they are kept in; `None` where the pass has none.
    pub values: [Option<f64>; QUANTITIES],
}

/// What a run tells of one aim.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// Seed of the draws.
    pub seed: u64,
    /// Numbers of the samples.
    pub samples: Range<u64>,
    /// How many of them held every limit.
    pub held: u64,
    /// The run's own probability where it is no share of the samples: of rare accidents, or certain.
    pub own: Option<Interval>,
    /// What each sample did in the order of the numbers; empty where it was not kept.
    pub flown: Vec<Flown>,
    /// The run's own median and quantile [`HIGH`] of the compared quantities, each with its interval.
    pub quantiles: [Option<(Estimate, Estimate)>; QUANTITIES],
}

/// What two runs share of their draws.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Draws {
    /// Sample i has the same luck in both.
    Same,
    /// The same seed and sample numbers, but not the same uncertain numbers, versions or numbers of samples.
    Partly,
    /// Nothing.
    Independent,
}

impl Draws {
    /// The stable word in files.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Same => "same",
            Self::Partly => "partly_the_same",
            Self::Independent => "independent",
        }
    }
}

/// How many samples held every limit in both runs, in one of them, and in none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize)]
pub struct Pairs {
    /// In both.
    pub both: u64,
    /// In the first alone.
    pub first: u64,
    /// In the second alone.
    pub second: u64,
    /// In none.
    pub neither: u64,
}

/// By how much the second run differs from the first.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// What they share of their draws.
    pub draws: Draws,
    /// What the shared samples did; `None` where their rows were not kept or they share none.
    pub pairs: Option<Pairs>,
    /// Whether the interval of `held` is that of paired samples.
    pub held_is_paired: bool,
    /// Difference of the probabilities of holding every limit.
    pub held: Estimate,
    /// Of paired samples median and quantile [`HIGH`] of the differences sample by sample, else the differences of
    /// the two quantiles; `None` where a run has no values.
    pub spreads: [Option<(Estimate, Estimate)>; QUANTITIES],
}

/// Compares what two runs tell of their aims; `same_luck` says whether equal sample numbers of one seed have equal draws.
///
/// # Errors
/// [`StatisticsError`]: no samples, or a confidence outside (0, 1).
pub fn compare(
    (first, second): (&Told, &Told),
    same_luck: bool,
    confidence: f64,
) -> Result<Compared, StatisticsError> {
    let overlap =
        first.samples.start.max(second.samples.start) < first.samples.end.min(second.samples.end);
    let draws = match (first.seed == second.seed && overlap, same_luck) {
        (false, _) => Draws::Independent,
        (true, true) if first.samples == second.samples => Draws::Same,
        (true, _) => Draws::Partly,
    };
    let shared = match draws {
        Draws::Independent => Vec::new(),
        Draws::Same | Draws::Partly => shared(&first.flown, &second.flown),
    };
    let pairs = (!shared.is_empty()).then(|| counted(&shared));
    let counts = pairs.filter(|_| first.own.is_none() && second.own.is_none());
    let held = match &counts {
        Some(pairs) => paired(pairs, confidence)?,
        None => apart(&first.interval(confidence)?, &second.interval(confidence)?),
    };
    let mut spreads = [None; QUANTITIES];
    for (place, spread) in spreads.iter_mut().enumerate() {
        *spread = if pairs.is_some() {
            let of = |pair: &(Flown, Flown)| Some(pair.1.values[place]? - pair.0.values[place]?);
            let differences: Vec<f64> = shared.iter().filter_map(of).collect();
            let sorted = Sorted::new(differences).ok();
            let at = |sorted: &Sorted, share| sorted.quantile_estimate(share, confidence);
            sorted
                .map(|s| Ok((at(&s, 0.5)?, at(&s, HIGH)?)))
                .transpose()?
        } else {
            let (of, other) = (&first.quantiles[place], &second.quantiles[place]);
            of.as_ref()
                .zip(other.as_ref())
                .map(|(a, b)| (apart(&a.0, &b.0), apart(&a.1, &b.1)))
        };
    }
    Ok(Compared {
        draws,
        pairs,
        held_is_paired: counts.is_some(),
        held,
        spreads,
    })
}

impl Compared {
    /// How the difference of the probabilities is known, in words.
    #[must_use]
    pub fn words(&self) -> &'static str {
        match (self.draws, self.held_is_paired) {
            (Draws::Same, true) => "the same draws in both, paired",
            (Draws::Partly, true) => "draws partly the same, paired",
            (Draws::Same | Draws::Partly, false) => "as of independent samples",
            (Draws::Independent, _) => "independent samples",
        }
    }

    /// What has to be said of how they are told; `None` where sample i has the same luck in both.
    #[must_use]
    pub fn remark(&self) -> Option<String> {
        let shared = self
            .pairs
            .map(|pairs| pairs.both + pairs.first + pairs.second + pairs.neither);
        match (self.draws, shared) {
            (Draws::Same, Some(_)) if self.held_is_paired => None,
            (Draws::Same, Some(_)) => Some("rare accidents were searched for, by draws of their own: the probabilities are compared as independent.".to_owned()),
            (Draws::Partly, Some(n)) => Some(format!("told by the {n} sample numbers that both have; their draws are only partly the same (other uncertain numbers, version or number of samples).")),
            (Draws::Same | Draws::Partly, None) => Some("the draws are shared, but the rows of a run were not kept: told as of independent samples, whose interval is as a rule too wide here. Runs with `--rows recommended` are told sample by sample.".to_owned()),
            (Draws::Independent, _) => Some("independent samples: another seed or other sample numbers. Runs of one seed and number of samples are told sample by sample, and closer.".to_owned()),
        }
    }
}

impl Told {
    /// Whether nothing is uncertain, so that its one sample tells all.
    #[must_use]
    pub fn is_certain(&self) -> bool {
        self.samples == (0..1) && self.own.is_some()
    }

    /// The probability of holding, with its own interval or Wilson's.
    fn interval(&self, confidence: f64) -> Result<Estimate, StatisticsError> {
        let found = match self.own {
            Some(own) => own,
            None => Interval::wilson(self.held, self.samples.end - self.samples.start, confidence)?,
        };
        Ok(of_interval(&found))
    }
}

fn of_interval(found: &Interval) -> Estimate {
    Estimate {
        value: found.estimate,
        lower: Some(found.lower),
        upper: Some(found.upper),
    }
}

/// The samples that both have, each twice; both lists are in the order of the numbers.
fn shared(first: &[Flown], second: &[Flown]) -> Vec<(Flown, Flown)> {
    let mut others = second.iter().peekable();
    let pair = |one: &Flown| {
        while others.next_if(|other| other.sample < one.sample).is_some() {}
        others
            .next_if(|other| other.sample == one.sample)
            .map(|other| (*one, *other))
    };
    first.iter().filter_map(pair).collect()
}

fn counted(shared: &[(Flown, Flown)]) -> Pairs {
    let mut pairs = Pairs::default();
    for (first, second) in shared {
        match (first.held, second.held) {
            (true, true) => pairs.both += 1,
            (true, false) => pairs.first += 1,
            (false, true) => pairs.second += 1,
            (false, false) => pairs.neither += 1,
        }
    }
    pairs
}

/// The difference of two proportions of independent samples, the second less the first, each as (events, trials):
/// Newcombe's hybrid score interval (method 10 of Stat. Med. 17 (1998) 873), two Wilson intervals squared and added.
///
/// # Errors
/// [`StatisticsError`]: no trials, more events than trials, or a confidence outside (0, 1).
pub fn independent(
    first: (u64, u64),
    second: (u64, u64),
    confidence: f64,
) -> Result<Estimate, StatisticsError> {
    let wilson = |(events, trials)| Interval::wilson(events, trials, confidence);
    Ok(apart(
        &of_interval(&wilson(first)?),
        &of_interval(&wilson(second)?),
    ))
}

/// The difference of two proportions of paired samples, the second less the first: Newcombe's hybrid score interval
/// with the continuity-corrected correlation of the pairs (method 10 of Stat. Med. 17 (1998) 2635).
///
/// # Errors
/// [`StatisticsError`]: no pairs, or a confidence outside (0, 1).
pub fn paired(pairs: &Pairs, confidence: f64) -> Result<Estimate, StatisticsError> {
    let [both, first, second, neither] =
        [pairs.both, pairs.first, pairs.second, pairs.neither].map(real);
    let n = both + first + second + neither;
    let trials = pairs.both + pairs.first + pairs.second + pairs.neither;
    let product = both * neither - first * second;
    let corrected = if product > 0.0 {
        (product - n / 2.0).max(0.0)
    } else {
        product
    };
    let spread = ((both + first) * (second + neither) * (both + second) * (first + neither)).sqrt();
    let correlation = if spread > 0.0 {
        corrected / spread
    } else {
        0.0
    };
    let of = |events| Interval::wilson(events, trials, confidence);
    let a = of_interval(&of(pairs.both + pairs.first)?);
    let b = of_interval(&of(pairs.both + pairs.second)?);
    // Exact where the counts are: the two proportions differ by the discordant pairs alone.
    let value = (second - first) / n;
    Ok(Estimate {
        value,
        ..correlated((&a, &b), correlation)
    })
}

/// The difference of two statistics of independent samples, each with its interval: the distances to the ends, squared
/// and added (Zou and Donner, Stat. Med. 27 (2008) 1693). An end is missing where one of those it needs is.
#[must_use]
pub fn apart(first: &Estimate, second: &Estimate) -> Estimate {
    correlated((first, second), 0.0)
}

fn correlated((first, second): (&Estimate, &Estimate), correlation: f64) -> Estimate {
    let value = second.value - first.value;
    let reach = |a: f64, b: f64| (a * a + b * b - 2.0 * correlation * a * b).max(0.0).sqrt();
    let below = second.lower.zip(first.upper);
    let above = second.upper.zip(first.lower);
    Estimate {
        value,
        lower: below.map(|(b, a)| value - reach(a - first.value, second.value - b)),
        upper: above.map(|(b, a)| value + reach(first.value - a, b - second.value)),
    }
}

/// A safe band, km: its edges, and how far outward each may truly lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edges {
    /// Lower edge.
    pub low_km: f64,
    /// Upper edge.
    pub high_km: f64,
    /// Of the lower one; `None` where nothing but the range of aims, or a want of results, sets it.
    pub low_uncertainty_km: Option<f64>,
    /// Of the upper one, likewise.
    pub high_uncertainty_km: Option<f64>,
}

impl Edges {
    /// How wide the band is as shown, km.
    #[must_use]
    pub fn width_km(&self) -> f64 {
        self.high_km - self.low_km
    }

    /// How much wider the second band is, km, with both as wide as they may truly be against the other as shown: bounds,
    /// not an interval of a stated confidence. An end is missing where an edge may lie anywhere outward.
    #[must_use]
    pub fn wider(first: &Self, second: &Self) -> Estimate {
        let more = |edges: &Self| Some(edges.low_uncertainty_km? + edges.high_uncertainty_km?);
        let value = second.width_km() - first.width_km();
        Estimate {
            value,
            lower: more(first).map(|more| value - more),
            upper: more(second).map(|more| value + more),
        }
    }
}

/// Whether equal sample numbers of one seed have equal draws in both: the same numbers are uncertain, and correlated alike.
#[must_use]
pub fn same_luck(first: &Uncertainty, second: &Uncertainty) -> bool {
    let drawn = |of: &Uncertainty| {
        let numbers: Vec<Number> = Number::ALL.into_iter().filter(|&n| of.draws(n)).collect();
        (numbers, of.air_parts.small_scale != AirPart::Exact)
    };
    drawn(first) == drawn(second) && first.correlations == second.correlations
}

/// A key in which scenarios differ, with what each of them writes there; `None` where it writes nothing.
pub type Differing = (String, Vec<Option<String>>);

/// Every key whose value is not the same in all trees, in the order of the first tree that has it. Formatting does not
/// count, nor the unit in which a quantity is written.
#[must_use]
pub fn differing(trees: &[&Value]) -> Vec<Differing> {
    let leaves: Vec<Vec<(String, &Value)>> = trees.iter().map(|tree| leaves(tree)).collect();
    let by_key: Vec<BTreeMap<&str, &Value>> = leaves
        .iter()
        .map(|all| {
            all.iter()
                .map(|(key, value)| (key.as_str(), *value))
                .collect()
        })
        .collect();
    let mut differing: Vec<Differing> = Vec::new();
    let mut seen = BTreeSet::new();
    for (key, _) in leaves.iter().flatten() {
        if !seen.insert(key.as_str()) {
            continue;
        }
        let values: Vec<Option<&Value>> = by_key
            .iter()
            .map(|all| all.get(key.as_str()).copied())
            .collect();
        let alike = |value: Option<&Value>| match (values[0], value) {
            (Some(a), Some(b)) => says_the_same(a, b),
            (a, b) => a.is_none() && b.is_none(),
        };
        if !values.iter().all(|value| alike(*value)) {
            let texts = values.iter().map(|value| value.map(written));
            differing.push((key.clone(), texts.collect()));
        }
    }
    differing
}

/// Every value that is no section or list, with its dotted key; of those only the empty ones.
fn leaves(tree: &Value) -> Vec<(String, &Value)> {
    let mut found = Vec::new();
    walk(String::new(), tree, &mut found);
    found
}

/// As deep as a tree is, which its reader bounds.
fn walk<'v>(path: String, value: &'v Value, found: &mut Vec<(String, &'v Value)>) {
    let below = |key: &str| match path.as_str() {
        "" => key.to_owned(),
        path => format!("{path}.{key}"),
    };
    match value {
        Value::Map(entries) if !entries.is_empty() => {
            for (key, inner) in entries {
                walk(below(key), inner, found);
            }
        }
        Value::List(items) if !items.is_empty() => {
            for (place, inner) in items.iter().enumerate() {
                walk(below(&place.to_string()), inner, found);
            }
        }
        _ => found.push((path, value)),
    }
}

fn says_the_same(first: &Value, second: &Value) -> bool {
    let (a, b) = (written(first), written(second));
    let quantity = |dimension: &Dimension| {
        let read = |text: &str| parse_quantity(text, *dimension).ok();
        read(&a).zip(read(&b)).is_some_and(|(a, b)| a == b)
    };
    a == b || Dimension::ALL.iter().any(quantity)
}

fn written(value: &Value) -> String {
    match value {
        Value::Null => "nothing".to_owned(),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        Value::Integer(number) => number.to_string(),
        Value::Number(number) => number.to_string(),
        Value::Text(text) => text.clone(),
        Value::List(_) => "[]".to_owned(),
        Value::Map(_) => "{}".to_owned(),
    }
}
