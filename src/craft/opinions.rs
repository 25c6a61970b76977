//! Correlations of convective stagnation heating by name: which cover a gas, what each gives, and where it
//! was meant to hold. Used to hold one against another; passes are flown with that of `heating`.

use super::convective::{Stream, detra_kemp_riddell};
use super::heating::{stagnation_factor, sutton_graves};
use super::validity::{Known, Range, Validity};

/// A kind of gas that a correlation is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GasKind {
    /// The Earth's air, or nearly.
    Air,
    /// Carbon dioxide with little else, as at Mars and Venus.
    CarbonDioxide,
    /// Anything else.
    Other,
}

/// A correlation of the convective heat flux at the stagnation point of a cold wall.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Correlation {
    /// q = k √(ρ/R) V³ with k by the gas (Sutton & Graves, NASA TR R-376, 1971).
    SuttonGraves,
    /// [`detra_kemp_riddell`], for air.
    DetraKempRiddell,
    /// q = 1.35e-8 √(ρ/R) V^3.04 W/cm² for a cold wall (Tauber, Bowles & Yang, J. Spacecraft Rockets 27(5),
    /// 1990, 514-521, from memory), for the carbon dioxide of Mars.
    TauberBowlesYang,
}

impl Correlation {
    /// Those that cover a gas, the one that passes are flown with first.
    #[must_use]
    pub fn covering(gas: GasKind) -> &'static [Self] {
        match gas {
            GasKind::Air => &[Self::SuttonGraves, Self::DetraKempRiddell],
            GasKind::CarbonDioxide => &[Self::SuttonGraves, Self::TauberBowlesYang],
            GasKind::Other => &[Self::SuttonGraves],
        }
    }

    /// Name for people.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::SuttonGraves => "Sutton-Graves",
            Self::DetraKempRiddell => "Detra-Kemp-Riddell",
            Self::TauberBowlesYang => "Tauber-Bowles-Yang",
        }
    }

    /// Stable key in files.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::SuttonGraves => "sutton_graves",
            Self::DetraKempRiddell => "detra_kemp_riddell",
            Self::TauberBowlesYang => "tauber_bowles_yang",
        }
    }

    /// How its numbers are known.
    #[must_use]
    pub fn known(self) -> Known {
        match self {
            Self::SuttonGraves => Known::Published,
            Self::DetraKempRiddell | Self::TauberBowlesYang => Known::FromMemory,
        }
    }

    /// Heat flux, W/m²; `heating_constant` is k of the gas (kg^½/m), which only Sutton-Graves uses.
    #[must_use]
    pub fn flux_w_m2(self, stream: &Stream, heating_constant: f64) -> f64 {
        let (root, radius) = (stream.density_kg_m3.sqrt(), stream.nose_radius_m);
        match self {
            Self::SuttonGraves => {
                stagnation_factor(heating_constant, radius) * sutton_graves(root, stream.speed_m_s)
            }
            Self::DetraKempRiddell => detra_kemp_riddell(root, stream.speed_m_s) / radius.sqrt(),
            Self::TauberBowlesYang => {
                1.35e-4 * root / radius.sqrt() * libm::pow(stream.speed_m_s, 3.04)
            }
        }
    }

    /// What of a stream lies outside the range for which the correlation was made.
    ///
    /// Sutton-Graves: enthalpies of 2.3 to 116.2 MJ/kg (taken as V²/2) and pressures of 0.001 to 100 atm
    /// (taken as ρ V²): published. Detra-Kemp-Riddell: the speeds of its shock-tube data, from memory.
    /// Tauber-Bowles-Yang: no range is known here; the speeds of entries at Mars are taken.
    #[must_use]
    pub fn validity(self, stream: &Stream) -> Validity {
        let speed = |lowest, highest| Range {
            quantity: "speed",
            unit: "m/s",
            lowest,
            highest,
        };
        let squared = stream.speed_m_s * stream.speed_m_s;
        match self {
            Self::SuttonGraves => Validity::of(&[
                (
                    Range {
                        quantity: "enthalpy",
                        unit: "MJ/kg",
                        lowest: 2.3,
                        highest: 116.2,
                    },
                    0.5e-6 * squared,
                ),
                (
                    Range {
                        quantity: "stagnation pressure",
                        unit: "atm",
                        lowest: 0.001,
                        highest: 100.0,
                    },
                    stream.density_kg_m3 * squared / 101_325.0,
                ),
            ]),
            Self::DetraKempRiddell => Validity::of(&[(speed(2145.0, 8000.0), stream.speed_m_s)]),
            Self::TauberBowlesYang => Validity::of(&[(speed(3000.0, 9000.0), stream.speed_m_s)]),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MARS: Stream = Stream {
        density_kg_m3: 1e-4,
        speed_m_s: 6000.0,
        nose_radius_m: 1.0,
    };

    /// Computed by hand: 1.35e-8 W/cm² · √1e-4 · 6000^3.04 = 41.296 W/cm²; Sutton-Graves with the Mars
    /// constant 1.9027e-4 (published) 41.098 W/cm². Correlations of this kind differ by up to 20 %.
    #[test]
    fn two_correlations_for_carbon_dioxide_agree_as_correlations_do() {
        let [first, second] = Correlation::covering(GasKind::CarbonDioxide) else {
            panic!("two cover it");
        };
        let (first, second) = (
            first.flux_w_m2(&MARS, 1.9027e-4) / 1e4,
            second.flux_w_m2(&MARS, 1.9027e-4) / 1e4,
        );
        assert!((first - 41.098).abs() < 1e-3, "{first}");
        assert!((second - 41.296).abs() < 1e-3, "{second}");
    }

    #[test]
    fn air_has_two_and_other_gases_one() {
        assert_eq!(
            Correlation::covering(GasKind::Air)[1],
            Correlation::DetraKempRiddell
        );
        assert_eq!(Correlation::covering(GasKind::Other).len(), 1);
    }

    /// Sutton & Graves, NASA TR R-376 (1971): enthalpies 2.3 to 116.2 MJ/kg, pressures 0.001 to 100 atm (published).
    #[test]
    fn the_published_range_of_the_first_is_held() {
        // Speeds of those enthalpies; densities of those pressures at 6 km/s.
        let inside = |density_kg_m3: f64, speed_m_s: f64| {
            let stream = Stream {
                density_kg_m3,
                speed_m_s,
                nose_radius_m: 1.0,
            };
            Correlation::SuttonGraves.validity(&stream).holds()
        };
        for (energy, within) in [
            (2.29e6, false),
            (2.31e6, true),
            (116.1e6, true),
            (116.3e6, false),
        ] {
            let speed: f64 = 2.0 * energy;
            assert_eq!(inside(1e-3, speed.sqrt()), within, "{energy}");
        }
        for (pressure, within) in [
            (0.99e-3, false),
            (1.01e-3, true),
            (99.9, true),
            (100.1, false),
        ] {
            assert_eq!(
                inside(pressure * 101_325.0 / 36e6, 6000.0),
                within,
                "{pressure}"
            );
        }
    }

    #[test]
    fn outside_their_ranges_they_say_so() {
        let fast = Stream {
            speed_m_s: 16_000.0,
            ..MARS
        };
        let thin = Stream {
            density_kg_m3: 1e-8,
            ..MARS
        };
        for (correlation, stream, left) in [
            (Correlation::SuttonGraves, fast, "enthalpy"),
            (Correlation::SuttonGraves, thin, "stagnation pressure"),
            (Correlation::DetraKempRiddell, fast, "speed"),
            (Correlation::TauberBowlesYang, fast, "speed"),
        ] {
            let validity = correlation.validity(&stream);
            assert_eq!(validity.departures().len(), 1);
            assert_eq!(validity.departures()[0].range.quantity, left);
            assert!(correlation.validity(&MARS).holds());
        }
    }
}
