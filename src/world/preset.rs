//! Named states of the air: what an active Sun or a dust storm adds to log density against altitude.

use super::curve::Curve;
use super::model::World;
use crate::scenario::likeness::closest;
use crate::scenario::message::InputError;

/// A named state of the air.
#[derive(Debug, Clone, PartialEq)]
pub struct Preset {
    /// Name by which it is asked for.
    pub name: String,
    /// What it adds to ln density against altitude, m.
    pub log_density_bias: Curve,
}

impl World {
    /// The names of the presets of this world, in the order of its file.
    pub fn preset_names(&self) -> impl Iterator<Item = &str> {
        self.parts()
            .presets
            .iter()
            .map(|preset| preset.name.as_str())
    }

    /// The world with the bias of a preset, named in capitals or not, added to its air; one applied
    /// before stays. Dispersion, temperature and wind are as they were, and so is
    /// [`text`](World::text): what was applied is told by [`applied_presets`](World::applied_presets).
    ///
    /// # Errors
    /// When the world has no such preset (the advice names a likely one, or all), when it is applied already,
    /// or when with it the air at the entry interface is no longer a thousand times thinner than at the ground.
    pub fn with_preset(&self, name: &str) -> Result<Self, InputError> {
        let wanted = name.trim().to_lowercase();
        let mut presets = self.parts().presets.iter();
        let Some(preset) = presets.find(|preset| preset.name.to_lowercase() == wanted) else {
            return Err(self.no_preset(name.trim(), &wanted));
        };
        if self.applied_presets().contains(&preset.name) {
            let message = format!("the preset `{}` is applied twice", preset.name);
            return Err(InputError::new(message));
        }
        self.with_air_bias(preset)
            .map_err(|error| InputError::new(format!("with the preset `{}`: {error}", preset.name)))
    }

    fn no_preset(&self, name: &str, wanted: &str) -> InputError {
        let names: Vec<_> = self.preset_names().collect();
        let help = match (closest(wanted, names.iter().copied()), names.is_empty()) {
            (_, true) => "this world has no presets".to_owned(),
            (Some(meant), _) => format!("did you mean `{meant}`?"),
            (None, _) => format!("its presets are {}", names.join(", ")),
        };
        let world = &self.body().name;
        InputError::new(format!("{world} has no preset `{name}`")).with_help(help)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bias_is_added_at_every_altitude_and_nothing_else_changes() {
        let earth = World::bundled("earth").unwrap();
        let active = earth.with_preset(" Solar-Active ").unwrap();
        assert_eq!(active.applied_presets(), ["solar-active"]);
        assert!(earth.applied_presets().is_empty());
        let curve = &earth.parts().presets[0].log_density_bias;
        for km in [-3, 0, 50, 99, 107, 120, 163, 250, 399, 500, 700, 1000, 1400] {
            let altitude_m = f64::from(km) * 1e3 + 40.0;
            let (before, after) = (
                earth.air().lookup(altitude_m),
                active.air().lookup(altitude_m),
            );
            let added = after.ln_density - before.ln_density;
            assert!(
                (added - curve.at(altitude_m).0).abs() < 1e-5,
                "{added} at {km} km"
            );
            assert_eq!(
                (after.log_sigma, after.temperature_k, after.zonal_wind_m_s),
                (
                    before.log_sigma,
                    before.temperature_k,
                    before.zonal_wind_m_s
                )
            );
        }
        assert_eq!((active.text(), active.body()), (earth.text(), earth.body()));
    }

    #[test]
    fn two_presets_add_up_in_any_order_but_none_twice() {
        let mars = World::bundled("mars").unwrap();
        let one = mars.with_preset("dust-storm").unwrap();
        let both = one.with_preset("dust-clear").unwrap();
        let turned = mars.with_preset("dust-clear").unwrap();
        let turned = turned.with_preset("dust-storm").unwrap();
        let ln_density = |world: &World| world.air().lookup(85_130.0).ln_density;
        assert!((ln_density(&both) - ln_density(&turned)).abs() < 1e-14);
        let error = both.with_preset("dust-storm").unwrap_err();
        assert_eq!(error.message(), "the preset `dust-storm` is applied twice");
    }

    #[test]
    fn a_preset_that_leaves_too_much_air_at_the_interface_is_refused() {
        let text = include_str!("../../atmospheres/mars.yaml");
        let low = text.replace("entry_interface: 125 km", "entry_interface: 67 km");
        let mars = World::from_text("low.yaml", &low).unwrap();
        let error = mars.with_preset("dust-storm").unwrap_err();
        let expected = "with the preset `dust-storm`: `entry_interface` must be so high that the air is a thousand times \
                        thinner than at the ground, got 67 km";
        assert_eq!(error.message(), expected);
        assert!(mars.with_preset("dust-clear").is_ok());
    }

    #[test]
    fn an_unknown_preset_is_told_what_there_is() {
        let help = |world: &str, preset: &str| {
            let world = World::bundled(world).unwrap();
            let error = world.with_preset(preset).unwrap_err();
            (
                error.message().to_owned(),
                error.help().unwrap_or_default().to_owned(),
            )
        };
        let expected = (
            "Earth has no preset `solar-activ`".to_owned(),
            "did you mean `solar-active`?".to_owned(),
        );
        assert_eq!(help("earth", "solar-activ"), expected);
        assert_eq!(
            help("mars", "winter").1,
            "its presets are dust-storm, dust-clear"
        );
        assert_eq!(help("titan", "winter").1, "this world has no presets");
    }
}
