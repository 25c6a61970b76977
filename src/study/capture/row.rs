//! One way to be captured, with what it costs and risks: a row of the comparison.

use crate::craft::shield::Shield;
use crate::ensemble::LimitKind;
use crate::ensemble::interval::Interval;
use crate::ensemble::verdict::Verdict;
use crate::study::band::Band;
use std::cmp::Ordering;

/// A way to be captured.
#[derive(Debug, Clone, PartialEq)]
pub enum Way {
    /// Propellant alone, in so many burns.
    Engine {
        /// Burns at periapsis.
        burns: u32,
    },
    /// One pass through the air.
    Air,
    /// A burn before entry, then one pass.
    BurnThenAir {
        /// Speed change of the burn by the rocket equation, m/s.
        speed_change_m_s: f64,
        /// Whether the air takes more speed than one standard deviation of the burn's own error of size: where it
        /// does not, the way is a burn deep in the planet's gravity and the pass only carries its risks.
        air_brakes: bool,
    },
    /// A loose orbit by engine, then many passes.
    GentlePasses,
    /// A moon's gravity, then propellant.
    MoonThenEngine {
        /// The moon.
        moon: String,
        /// Burns at periapsis.
        burns: u32,
    },
    /// A moon's gravity, then one pass.
    MoonThenAir {
        /// The moon.
        moon: String,
    },
}

impl Way {
    /// The stable key in files.
    #[must_use]
    pub fn key(&self) -> &'static str {
        match self {
            Self::Engine { .. } => "engine",
            Self::Air => "air",
            Self::BurnThenAir { .. } => "burn_then_air",
            Self::GentlePasses => "gentle_passes",
            Self::MoonThenEngine { .. } => "moon_then_engine",
            Self::MoonThenAir { .. } => "moon_then_air",
        }
    }
}

/// Why a way is closed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Obstacle {
    /// The ship has no engine.
    #[error("the ship has no engine: write `ship.engine`")]
    NoEngine,
    /// The engine cannot do it.
    #[error("{0}")]
    Engine(String),
    /// The moon cannot be flown past on the way to the periapsis.
    #[error("no way past {0} leads to the periapsis wanted")]
    NoWayPast(String),
    /// The moon takes no speed.
    #[error("{0} takes no energy from this arrival")]
    MoonTakesNothing(String),
    /// No aim meets the air in a way that captures.
    #[error("no aim in the range, nor above it to the entry interface, captures: {0}")]
    NoAim(NoAim),
    /// The campaign cannot be flown.
    #[error("{0}")]
    Campaign(String),
}

impl Obstacle {
    /// No approach conic leads to the target's periapsis.
    #[must_use]
    pub fn no_conic() -> Self {
        Self::Engine("no approach conic has the target's periapsis".to_owned())
    }

    /// The reason in a few words, for a column.
    #[must_use]
    pub fn short(&self) -> &'static str {
        match self {
            Self::NoEngine => "no engine",
            Self::Engine(_) => "the engine",
            Self::NoWayPast(_) => "no way past",
            Self::MoonTakesNothing(_) => "no help",
            Self::NoAim(_) => "not captured",
            Self::Campaign(_) => "the campaign",
        }
    }
}

/// What nominal passes do where none captures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoAim {
    /// There are none.
    #[error("no approach conic fits")]
    NoApproach,
    /// All leave for good.
    #[error("every nominal pass leaves on an open orbit")]
    AllLeave,
    /// All come down, or are in the air for too long.
    #[error("every nominal pass comes down")]
    AllComeDown,
    /// Some come down and some leave.
    #[error("nominal passes come down or leave on an open orbit, none between them is captured")]
    NoneBetween,
}

/// What a sample may break beside the limits of the scenario.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Break {
    /// A limit of the scenario.
    Limit(LimitKind),
    /// Not captured.
    NotCaptured,
    /// More propellant than there is aboard.
    Propellant,
    /// The target orbit was not reached.
    Target,
    /// The flight failed numerically.
    Failed,
    /// The numbers fit no approach: there is no such arrival.
    NoApproach,
}

impl Break {
    /// The stable key in files.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Limit(kind) => kind.key(),
            Self::NotCaptured => "not_captured",
            Self::Propellant => "propellant_aboard",
            Self::Target => "target",
            Self::Failed => "failed",
            Self::NoApproach => "no_approach",
        }
    }
}

/// A stretch of the time to the target orbit.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// What it is.
    pub kind: StretchKind,
    /// How long it is, s, 0 or more.
    pub duration_s: f64,
}

/// What a stretch of time is spent on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StretchKind {
    /// A longer way to the planet.
    Travel,
    /// From a moon to the planet.
    FromMoon,
    /// Burns of the capture.
    Burns,
    /// Passes through the air.
    Passes,
    /// Burns that mend the orbit.
    Mending,
}

impl StretchKind {
    /// Every kind in the order of a flight, with its name.
    pub const ALL: [(Self, &'static str); 5] = [
        (Self::Travel, "longer way"),
        (Self::FromMoon, "from the moon"),
        (Self::Burns, "capture burns"),
        (Self::Passes, "passes"),
        (Self::Mending, "mending the orbit"),
    ];
}

/// What the moon of a way does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MoonFacts {
    /// Speed against the moon far from it, m/s.
    pub relative_speed_m_s: f64,
    /// Turn at the lowest allowed altitude, rad.
    pub turn_rad: f64,
    /// Turn that would close the orbit below the loosest apoapsis, rad; `None` where none does.
    pub wanted_rad: Option<f64>,
    /// Flybys that such a turn takes.
    pub flybys: Option<u32>,
    /// Twice the specific energy of the conic afterwards, m²/s².
    pub twice_energy_after: f64,
    /// Inclination afterwards, rad.
    pub inclination_rad: f64,
    /// Apoapsis altitude afterwards, m; `None` on an open orbit.
    pub apoapsis_altitude_m: Option<f64>,
}

/// A number of burns that was tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SplitTried {
    /// Burns.
    pub burns: u32,
    /// Speed change by the rocket equation, m/s.
    pub speed_change_m_s: f64,
    /// The impulse that does the same, m/s.
    pub impulse_m_s: f64,
    /// Robbins' estimate of the loss, m/s.
    pub robbins_m_s: f64,
    /// Whether that estimate is valid for every burn.
    pub robbins_holds: bool,
    /// From the first burn to the last, s.
    pub duration_s: f64,
    /// Whether it is the one taken.
    pub taken: bool,
}

/// What a way costs and risks. Peaks are quantiles at the probability asked for, speeds and times medians.
#[derive(Debug, Clone, PartialEq)]
pub struct Costs {
    /// Aim of the pass, m, where there is one.
    pub aim_m: Option<f64>,
    /// The safe band about it, where its edges were looked for and there is one.
    pub band: Option<Band>,
    /// Speed taken by the air, m/s.
    pub air_speed_m_s: f64,
    /// Speed change by the engine, m/s.
    pub engine_speed_m_s: f64,
    /// Propellant, kg, median; `None` without an engine.
    pub propellant_kg: Option<f64>,
    /// Propellant that suffices with the probability asked for, kg; `None` without an engine, or where so many
    /// samples are not captured that no amount does.
    pub reserve_kg: Option<f64>,
    /// Propellant used before the arrival, kg; part of the two above.
    pub extra_kg: f64,
    /// Heat shield by the published fit, where the air takes part.
    pub shield: Option<Shield>,
    /// Its mass, kg.
    pub shield_kg: f64,
    /// Mass in the target orbit without reserve and heat shield, kg: that of the ship at the start less the two.
    pub delivered_kg: Option<f64>,
    /// Peak acceleration felt, m/s².
    pub peak_m_s2: f64,
    /// Onset, m/s³.
    pub onset_m_s3: f64,
    /// Peak heat flux, W/m².
    pub heat_flux_w_m2: f64,
    /// Heat load of the hottest pass, J/m².
    pub heat_load_j_m2: f64,
    /// The time to the target orbit in stretches; medians.
    pub stretches: Vec<Stretch>,
    /// Passes through the air, median.
    pub passes: f64,
    /// Samples.
    pub samples: u64,
    /// Samples that were captured: those behind the medians.
    pub captured: u64,
    /// How many samples broke what, the most often broken first; only what was broken.
    pub broken: Vec<(Break, u64)>,
    /// Probability that all holds.
    pub held: Interval,
    /// Whether that reaches the probability asked for, does not, or cannot be told from so many samples.
    pub verdict: Verdict,
    /// Samples without a result.
    pub unflown: u64,
    /// Whether these alone keep it from being shown that all holds.
    pub undecided: bool,
    /// What sets the limit: what is broken most often or, where nothing is, what binds next to the aim.
    pub ruling: Option<Break>,
}

impl Costs {
    /// Whether all is shown to hold with the probability asked for.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.verdict == Verdict::Held
    }

    /// What is not delivered: propellant and heat shield, kg; `None` without an engine or where no propellant does.
    #[must_use]
    pub fn spent_kg(&self) -> Option<f64> {
        self.reserve_kg.map(|kg| kg + self.shield_kg)
    }

    /// The more is delivered the earlier: least propellant and heat shield together first; where neither has a
    /// propellant, less speed change.
    #[must_use]
    pub fn order(&self, other: &Self) -> Ordering {
        let spent = |costs: &Self| costs.spent_kg().unwrap_or(f64::INFINITY);
        spent(self)
            .total_cmp(&spent(other))
            .then(self.engine_speed_m_s.total_cmp(&other.engine_speed_m_s))
    }

    /// Time to the target orbit, s; NaN when no sample was captured.
    #[must_use]
    pub fn time_s(&self) -> f64 {
        if self.captured == 0 {
            return f64::NAN;
        }
        self.stretches.iter().map(|one| one.duration_s).sum()
    }
}

/// A row of the comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Name of the arrival; empty for that of the scenario.
    pub arrival: String,
    /// The way.
    pub way: Way,
    /// What it costs, or why it is closed.
    pub costs: Result<Costs, Obstacle>,
    /// What the moon does, where there is one.
    pub moon: Option<MoonFacts>,
    /// Numbers of burns that were tried.
    pub splits: Vec<SplitTried>,
    /// Burns before entry that were tried, with what they cost.
    pub sweep: Vec<(f64, Costs)>,
}

impl Row {
    /// A row without further facts.
    #[must_use]
    pub fn new(arrival: &str, way: Way, costs: Result<Costs, Obstacle>) -> Self {
        Self {
            arrival: arrival.to_owned(),
            way,
            costs,
            moon: None,
            splits: Vec::new(),
            sweep: Vec::new(),
        }
    }

    /// Whether the way is open and holds every limit with the probability asked for.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.costs.as_ref().is_ok_and(Costs::holds)
    }
}
