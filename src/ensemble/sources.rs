//! What is uncertain, in parts that move independently of one another.

use crate::scenario::uncertainty::{AirDensity, Number, Uncertainty};
use crate::world::World;
use crate::world::dispersion::Dispersion;

/// Something uncertain that moves by itself: a number, numbers that move together, or the small-scale
/// field of the air.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// Its numbers, in the order of their draw indices; several where they are correlated or are the
    /// two axes of one B-plane error.
    pub numbers: Vec<Number>,
    /// Whether it is the small-scale field.
    pub small_scale: bool,
}

impl Source {
    /// Name for people: `mass`, or `mass with drag coefficient` where they move together.
    #[must_use]
    pub fn words(&self) -> String {
        if self.small_scale {
            return "small-scale field of the air".to_owned();
        }
        if self.is_b_plane() {
            return "B-plane error".to_owned();
        }
        let words: Vec<&str> = self.numbers.iter().map(|number| number.words()).collect();
        words.join(" with ")
    }

    /// Stable key in files: the dotted key of its number, joined by `+` where there are several.
    #[must_use]
    pub fn key(&self) -> String {
        if self.small_scale {
            return "air.small_scale".to_owned();
        }
        let keys: Vec<&str> = self.numbers.iter().map(|number| number.key()).collect();
        keys.join("+")
    }

    /// Whether it holds several numbers because they are correlated.
    #[must_use]
    pub fn is_correlated(&self) -> bool {
        self.numbers.len() > 1 && !self.is_b_plane()
    }

    fn is_b_plane(&self) -> bool {
        self.numbers == [Number::DeliveryBT, Number::DeliveryBR]
    }
}

/// The independent parts of an uncertainty, in the order of their draw indices, the small-scale field last;
/// empty where nothing is uncertain. `dispersion` is the one flown.
#[must_use]
pub fn sources(uncertainty: &Uncertainty, world: &World, dispersion: &Dispersion) -> Vec<Source> {
    let mut numbers: Vec<Number> = uncertainty.numbers.iter().map(|u| u.number).collect();
    let scale_height = dispersion.scale_height.map_or(0.0, |error| error.sigma);
    let wind = dispersion.wind_sigma_m_s.unwrap_or(0.0);
    for (number, varies) in [
        (Number::AirDensity, density_varies(uncertainty, world)),
        (Number::AirScaleHeight, scale_height > 0.0),
        (Number::AirWind, wind > 0.0),
    ] {
        if varies {
            numbers.push(number);
        }
    }
    numbers.sort_unstable();
    let tied = |a: Number, b: Number| {
        let both = [(a, b), (b, a)];
        let mut correlations = uncertainty.correlations.iter();
        both.contains(&(Number::DeliveryBT, Number::DeliveryBR))
            || correlations.any(|c| both.contains(&c.between) && c.coefficient != 0.0)
    };
    let mut sources: Vec<Source> = Vec::new();
    while !numbers.is_empty() {
        let mut together = vec![numbers.remove(0)];
        while let Some(next) = numbers
            .iter()
            .position(|&other| together.iter().any(|&one| tied(one, other)))
        {
            together.push(numbers.remove(next));
        }
        together.sort_unstable();
        sources.push(Source {
            numbers: together,
            small_scale: false,
        });
    }
    if dispersion.small_scale.is_some() {
        sources.push(Source {
            numbers: Vec::new(),
            small_scale: true,
        });
    }
    sources
}

fn density_varies(uncertainty: &Uncertainty, world: &World) -> bool {
    match uncertainty.air_density {
        AirDensity::Exact => false,
        AirDensity::World { factor } => {
            let mut cells = world.air().cells().iter();
            factor != 0.0 && cells.any(|cell| cell.log_sigma != [0.0; 4])
        }
        AirDensity::LogFactor(_) => true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ensemble::air::flown_dispersion;
    use crate::scenario::{STARTER, Scenario};

    fn of(text: &str) -> Vec<String> {
        let scenario = Scenario::from_text("x.yaml", text).unwrap();
        let world = World::bundled(&scenario.world).unwrap();
        let dispersion = flown_dispersion(&scenario.uncertainty.air_parts, &world);
        let sources = sources(&scenario.uncertainty, &world, &dispersion);
        sources.iter().map(Source::key).collect()
    }

    #[test]
    fn every_uncertain_quantity_is_in_one_source() {
        let expected = [
            "delivery.periapsis_altitude",
            "delivery.speed",
            "air.density",
            "ship.mass",
            "ship.drag_coefficient",
            "ship.nose_radius",
            "air.scale_height",
            "air.wind",
            "heating.convective",
            "heating.radiative",
            "air.small_scale",
        ];
        assert_eq!(of(STARTER), expected);
        let exact = STARTER.replace("    density: {world_times: 0.5}", "    density: exact");
        assert!(!of(&exact).contains(&"air.density".to_owned()));
    }

    #[test]
    fn correlated_numbers_and_the_axes_of_the_b_plane_are_one_source() {
        let correlated = STARTER.replacen(
            "uncertainty:\n",
            "uncertainty:\n  correlations:\n    - {between: [ship.mass, ship.nose_radius], coefficient: 0.4}\n    \
             - {between: [air.density, ship.mass], coefficient: -0.2}\n",
            1,
        );
        assert!(of(&correlated).contains(&"air.density+ship.mass+ship.nose_radius".to_owned()));
        let b_plane = STARTER.replacen(
            "periapsis_altitude: {normal: {std_dev: 0.35 km}}",
            "b_plane: {t: 3 km, r: 2 km}",
            1,
        );
        assert_eq!(of(&b_plane)[0], "delivery.b_plane.t+delivery.b_plane.r");
    }

    #[test]
    fn without_uncertainty_there_is_no_source() {
        let (before, rest) = STARTER.split_once("uncertainty:").unwrap();
        let (_, limits) = rest.split_once("limits:").unwrap();
        let exact = format!("{before}uncertainty: {{air: exact, heating: exact}}\nlimits:{limits}");
        assert!(of(&exact).is_empty());
    }
}
