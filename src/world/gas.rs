//! What the air is made of: molar mass, ratio of specific heats and the constant of stagnation heating.

use super::error::{WorldError, given};
use crate::numeric::elementary::powf;

/// Molar gas constant, J/(kmol K); exact since the SI of 2019.
pub const GAS_CONSTANT_J_KMOL_K: f64 = 8_314.462_618;
/// One standard atmosphere, Pa; exact by definition.
const ATMOSPHERE_PA: f64 = 101_325.0;

/// A gas that air may hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names are the chemical formulas")]
pub enum Species {
    H2,
    He,
    CH4,
    NH3,
    H2O,
    Ne,
    CO,
    N2,
    O2,
    Ar,
    CO2,
    SO2,
}

impl Species {
    /// All of them, lightest first.
    pub const ALL: [Self; 12] = [
        Self::H2,
        Self::He,
        Self::CH4,
        Self::NH3,
        Self::H2O,
        Self::Ne,
        Self::CO,
        Self::N2,
        Self::O2,
        Self::Ar,
        Self::CO2,
        Self::SO2,
    ];

    /// Chemical formula as a world file writes it.
    #[must_use]
    pub fn formula(self) -> &'static str {
        match self {
            Self::H2 => "H2",
            Self::He => "He",
            Self::CH4 => "CH4",
            Self::NH3 => "NH3",
            Self::H2O => "H2O",
            Self::Ne => "Ne",
            Self::CO => "CO",
            Self::N2 => "N2",
            Self::O2 => "O2",
            Self::Ar => "Ar",
            Self::CO2 => "CO2",
            Self::SO2 => "SO2",
        }
    }

    /// The gas with this formula, written with the right capitals.
    #[must_use]
    pub fn named(formula: &str) -> Option<Self> {
        Self::ALL
            .into_iter()
            .find(|species| species.formula() == formula)
    }

    /// Molar mass, kg/kmol (IUPAC standard atomic weights, from memory).
    #[must_use]
    pub fn molar_mass_kg_kmol(self) -> f64 {
        match self {
            Self::H2 => 2.016,
            Self::He => 4.0026,
            Self::CH4 => 16.043,
            Self::NH3 => 17.031,
            Self::H2O => 18.015,
            Self::Ne => 20.180,
            Self::CO => 28.010,
            Self::N2 => 28.014,
            Self::O2 => 31.998,
            Self::Ar => 39.95,
            Self::CO2 => 44.009,
            Self::SO2 => 64.064,
        }
    }

    /// Diameter of the molecules as hard spheres in collision near 273 K, m, for mean free paths (Bird,
    /// *Molecular Gas Dynamics and the Direct Simulation of Gas Flows*, 1994, Appendix A; from memory; of
    /// water a guess, 4.6e-10).
    #[must_use]
    pub fn collision_diameter_m(self) -> f64 {
        let angstrom = match self {
            Self::H2 => 2.92,
            Self::He => 2.33,
            Self::CH4 => 4.83,
            Self::NH3 => 5.94,
            Self::H2O => 4.60,
            Self::Ne => 2.77,
            Self::CO => 4.19,
            Self::N2 | Self::Ar => 4.17,
            Self::O2 => 4.07,
            Self::CO2 => 5.62,
            Self::SO2 => 7.16,
        };
        angstrom * 1e-10
    }

    /// Stagnation heating constant K of the pure gas, kg/(s m^1.5 atm^0.5), where there is one
    /// (Sutton and Graves, NASA TR R-376, 1971, Table II; from memory).
    #[must_use]
    pub fn heating_constant(self) -> Option<f64> {
        match self {
            Self::H2 => Some(0.0395),
            Self::He => Some(0.0797),
            Self::CH4 => Some(0.0807),
            Self::NH3 => Some(0.0990),
            Self::Ne => Some(0.1474),
            Self::N2 => Some(0.1112),
            Self::O2 => Some(0.1201),
            Self::Ar => Some(0.1495),
            Self::CO2 => Some(0.1210),
            Self::H2O | Self::CO | Self::SO2 => None,
        }
    }
}

/// Air as a mixture of gases, the same at every altitude.
#[derive(Debug, Clone, PartialEq)]
pub struct Gas {
    /// Species with their mole fractions, which add up to 1.
    moles: Vec<(Species, f64)>,
    molar_mass_kg_kmol: f64,
    gamma: f64,
}

impl Gas {
    /// A mixture by mole (volume) fractions, with its ratio of specific heats γ.
    /// The fractions may add up to anything within 1 % of 1; they are scaled to 1.
    ///
    /// # Errors
    /// [`WorldError::OutOfRange`] for a fraction outside 0 to 1, a sum off by more than 1 %, or a γ outside 1 to 5/3.
    pub fn by_mole(fractions: &[(Species, f64)], gamma: f64) -> Result<Self, WorldError> {
        let total = check_fractions("mole_fractions", fractions)?;
        let rule = "above 1 and at most 5/3";
        given("gamma", "", gamma).must(gamma > 1.0 && gamma < 1.667, rule)?;
        let moles: Vec<_> = fractions
            .iter()
            .map(|&(species, part)| (species, part / total))
            .collect();
        let molar_mass_kg_kmol = moles
            .iter()
            .map(|&(species, part)| part * species.molar_mass_kg_kmol())
            .sum();
        Ok(Self {
            moles,
            molar_mass_kg_kmol,
            gamma,
        })
    }

    /// A mixture by mass fractions; otherwise as [`Gas::by_mole`].
    ///
    /// # Errors
    /// As [`Gas::by_mole`].
    pub fn by_mass(fractions: &[(Species, f64)], gamma: f64) -> Result<Self, WorldError> {
        check_fractions("mass_fractions", fractions)?;
        let per_mass =
            |&(species, part): &(Species, f64)| (species, part / species.molar_mass_kg_kmol());
        let amounts: Vec<_> = fractions.iter().map(per_mass).collect();
        let total: f64 = amounts.iter().map(|&(_, amount)| amount).sum();
        let moles: Vec<_> = amounts
            .iter()
            .map(|&(species, amount)| (species, amount / total))
            .collect();
        Self::by_mole(&moles, gamma)
    }

    /// Mole fraction of a species, 0 to 1.
    #[must_use]
    pub fn mole_fraction(&self, species: Species) -> f64 {
        let parts = self.moles.iter().filter(|(held, _)| *held == species);
        parts.map(|&(_, part)| part).sum()
    }

    /// Mean molar mass, kg/kmol.
    #[must_use]
    pub fn molar_mass_kg_kmol(&self) -> f64 {
        self.molar_mass_kg_kmol
    }

    /// Ratio of specific heats at a few hundred kelvin.
    #[must_use]
    pub fn gamma(&self) -> f64 {
        self.gamma
    }

    /// Speed of sound √(γ R T/M), m/s, at a temperature in K; for a Mach number, not for hot gas behind a shock.
    #[must_use]
    pub fn speed_of_sound_m_s(&self, temperature_k: f64) -> f64 {
        (self.gamma * GAS_CONSTANT_J_KMOL_K * temperature_k / self.molar_mass_kg_kmol).sqrt()
    }

    /// Mean diameter of the molecules in collision by mole fraction, m; see [`Species::collision_diameter_m`].
    #[must_use]
    pub fn collision_diameter_m(&self) -> f64 {
        let part = |&(species, moles): &(Species, f64)| moles * species.collision_diameter_m();
        self.moles.iter().map(part).sum()
    }

    /// Constant k of q = k √(ρ/r) V³ in SI units, kg^0.5/m, by the mixture rule 1/K² = Σ cᵢ/Kᵢ² over
    /// mass fractions and k = K/(2 √(101325 Pa)) (Sutton and Graves, NASA TR R-376, 1971).
    ///
    /// # Errors
    /// The first gas of the mixture for which no K is known.
    pub fn mixture_heating_constant(&self) -> Result<f64, Species> {
        let mut inverse_square = 0.0;
        for &(species, moles) in &self.moles {
            let constant = species.heating_constant().ok_or(species)?;
            let mass_fraction = moles * species.molar_mass_kg_kmol() / self.molar_mass_kg_kmol;
            inverse_square += mass_fraction / (constant * constant);
        }
        Ok(powf(inverse_square * ATMOSPHERE_PA, -0.5) / 2.0)
    }
}

/// Checks each fraction and returns their sum.
fn check_fractions(key: &'static str, fractions: &[(Species, f64)]) -> Result<f64, WorldError> {
    let mut total = 0.0;
    for &(_, value) in fractions {
        let rule = "between 0 and 1 for each gas";
        total += given(key, "", value).must((0.0..=1.0).contains(&value), rule)?;
    }
    given(key, "", total).must((total - 1.0).abs() <= 0.01, "1 in all, within one per cent")
}

#[cfg(test)]
mod tests {
    use super::*;
    use Species::{Ar, CH4, CO2, H2, He, N2, O2};

    #[test]
    fn mixture_rule_gives_the_computed_constants() {
        // Computed independently from the same K (from memory) by the rule of TR R-376; 4 to 5 figures.
        type Row = (&'static str, &'static [(Species, f64)], f64);
        let rows: [Row; 8] = [
            ("Mars", &[(CO2, 0.956), (N2, 0.027), (Ar, 0.016)], 1.9024e-4),
            ("Venus", &[(CO2, 0.965), (N2, 0.035)], 1.8967e-4),
            ("Titan", &[(N2, 0.95), (CH4, 0.05)], 1.7242e-4),
            ("Titan, 2 % methane", &[(N2, 0.98), (CH4, 0.02)], 1.7377e-4),
            ("Jupiter", &[(H2, 0.864), (He, 0.136)], 6.850e-5),
            ("Saturn", &[(H2, 0.88), (He, 0.12)], 6.773e-5),
            ("Uranus", &[(H2, 0.85), (He, 0.15)], 6.918e-5),
            ("Neptune", &[(H2, 0.81), (He, 0.19)], 7.116e-5),
        ];
        for (name, fractions, expected) in rows {
            let constant = Gas::by_mole(fractions, 1.4)
                .unwrap()
                .mixture_heating_constant()
                .unwrap();
            assert!(
                (constant / expected - 1.0).abs() < 1e-4,
                "{name}: {constant:e} against {expected:e}"
            );
        }
    }

    /// Sutton & Graves, NASA TR R-376 (1971), Table II: from memory.
    #[test]
    fn gases_have_the_constants_of_the_table() {
        use Species::{NH3, Ne};
        for (gas, constant) in [
            (H2, 0.0395),
            (He, 0.0797),
            (N2, 0.1112),
            (O2, 0.1201),
            (CO2, 0.1210),
            (CH4, 0.0807),
            (NH3, 0.0990),
            (Ne, 0.1474),
            (Ar, 0.1495),
        ] {
            assert_eq!(gas.heating_constant(), Some(constant), "{}", gas.formula());
        }
    }

    #[test]
    fn air_and_carbon_dioxide_are_near_the_published_si_constants() {
        // 1.7415e-4 (Earth) and 1.9027e-4 (Mars): published. TR R-376 claims 3.3 % on average.
        let air = Gas::by_mole(&[(N2, 0.7809), (O2, 0.2095), (Ar, 0.0093)], 1.4).unwrap();
        assert!((air.mixture_heating_constant().unwrap() / 1.7415e-4 - 1.0).abs() < 0.025);
        let carbon_dioxide = Gas::by_mole(&[(CO2, 1.0)], 1.29).unwrap();
        assert!(
            (carbon_dioxide.mixture_heating_constant().unwrap() / 1.9027e-4 - 1.0).abs() < 0.002
        );
    }

    #[test]
    fn air_has_its_molar_mass_and_speed_of_sound() {
        // 28.9644 kg/kmol and 340.294 m/s at 288.15 K: U.S. Standard Atmosphere 1976 (published; from memory).
        let air = Gas::by_mole(
            &[(N2, 0.7809), (O2, 0.2095), (Ar, 0.0093), (CO2, 0.0003)],
            1.4,
        )
        .unwrap();
        assert!((air.molar_mass_kg_kmol() / 28.9644 - 1.0).abs() < 2e-4);
        assert!((air.speed_of_sound_m_s(288.15) / 340.294 - 1.0).abs() < 2e-4);
    }

    #[test]
    fn mass_and_mole_fractions_of_one_mixture_agree() {
        let by_mole = Gas::by_mole(&[(H2, 0.864), (He, 0.136)], 1.45).unwrap();
        let helium = 0.136 * 4.0026 / by_mole.molar_mass_kg_kmol();
        let by_mass = Gas::by_mass(&[(H2, 1.0 - helium), (He, helium)], 1.45).unwrap();
        assert!((by_mass.molar_mass_kg_kmol() / by_mole.molar_mass_kg_kmol() - 1.0).abs() < 1e-14);
    }

    #[test]
    fn unusable_mixtures_are_refused() {
        let key = |fractions: &[(Species, f64)], gamma| match Gas::by_mole(fractions, gamma) {
            Err(WorldError::OutOfRange { key, .. }) => key,
            other => panic!("expected a number out of range, got {other:?}"),
        };
        assert_eq!(key(&[], 1.4), "mole_fractions");
        assert_eq!(key(&[(N2, 78.0), (O2, 21.0)], 1.4), "mole_fractions");
        assert_eq!(key(&[(N2, 0.7), (O2, 0.2)], 1.4), "mole_fractions");
        assert_eq!(key(&[(N2, 1.0)], 1.0), "gamma");
        assert_eq!(key(&[(N2, 1.0)], f64::NAN), "gamma");
        let steam = Gas::by_mole(&[(Species::H2O, 0.5), (N2, 0.5)], 1.35).unwrap();
        assert_eq!(steam.mixture_heating_constant(), Err(Species::H2O));
    }

    #[test]
    fn every_gas_is_found_by_its_formula() {
        assert!(
            Species::ALL
                .into_iter()
                .all(|species| Species::named(species.formula()) == Some(species))
        );
        assert_eq!(Species::named("co2"), None);
    }
}
