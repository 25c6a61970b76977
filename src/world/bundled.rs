//! The worlds that are compiled in, and how a scenario names a world: one of these, or a file.

use std::path::Path;

use super::model::{Quality, Source, World};
use crate::scenario::likeness::closest;
use crate::scenario::message::InputError;

/// Names and texts of the bundled worlds.
const BUNDLED: [(&str, &str); 12] = [
    ("earth", include_str!("../../atmospheres/earth.yaml")),
    (
        "harkundra",
        include_str!("../../atmospheres/harkundra.yaml"),
    ),
    ("jupiter", include_str!("../../atmospheres/jupiter.yaml")),
    ("mars", include_str!("../../atmospheres/mars.yaml")),
    ("neptune", include_str!("../../atmospheres/neptune.yaml")),
    ("ozmerrun", include_str!("../../atmospheres/ozmerrun.yaml")),
    (
        "pelluvane",
        include_str!("../../atmospheres/pelluvane.yaml"),
    ),
    ("saturn", include_str!("../../atmospheres/saturn.yaml")),
    ("tavrelle", include_str!("../../atmospheres/tavrelle.yaml")),
    ("titan", include_str!("../../atmospheres/titan.yaml")),
    ("uranus", include_str!("../../atmospheres/uranus.yaml")),
    ("venus", include_str!("../../atmospheres/venus.yaml")),
];

/// What a list of worlds says of one.
#[derive(Debug, Clone, PartialEq)]
pub struct Listing {
    /// Name by which a scenario asks for it.
    pub name: &'static str,
    /// Lowest altitude of the air, m.
    pub floor_m: f64,
    /// Highest altitude of the air, m.
    pub top_m: f64,
    /// Altitude of the entry interface, m.
    pub entry_interface_m: f64,
    /// How far the world may be trusted.
    pub quality: Quality,
    /// Names of its moons.
    pub moons: Vec<String>,
    /// Names of its presets.
    pub presets: Vec<String>,
    /// Where each block comes from.
    pub sources: Vec<Source>,
}

/// Names of the bundled worlds, in the order of the alphabet.
pub fn bundled_names() -> impl Iterator<Item = &'static str> {
    BUNDLED.iter().map(|(name, _)| *name)
}

/// What there is to say about every bundled world.
///
/// # Errors
/// None in a released program: the bundled files are read by a test.
pub fn listing() -> Result<Vec<Listing>, InputError> {
    bundled_names()
        .map(|name| World::bundled(name).map(|world| listed(name, &world)))
        .collect()
}

fn listed(name: &'static str, world: &World) -> Listing {
    Listing {
        name,
        floor_m: world.air().floor_m(),
        top_m: world.air().top_m(),
        entry_interface_m: world.body().entry_interface_m,
        quality: world.quality(),
        moons: world.moons().iter().map(|moon| moon.name.clone()).collect(),
        presets: world.preset_names().map(str::to_owned).collect(),
        sources: world.sources().to_vec(),
    }
}

impl World {
    /// A bundled world by its name, in capitals or not.
    ///
    /// # Errors
    /// When there is none of that name; the advice names a likely one, or all.
    pub fn bundled(name: &str) -> Result<Self, InputError> {
        let wanted = name.trim().to_lowercase();
        match BUNDLED.iter().find(|(known, _)| *known == wanted) {
            Some((known, text)) => Self::from_text(&format!("{known}.yaml (bundled)"), text),
            None => Err(unknown(name, &wanted)),
        }
    }

    /// The world a scenario asks for: the name of a bundled one, or the path of a world file, which has a
    /// `/`, a `\` or the ending `.yaml` or `.yml`; a relative path starts at `base_dir`.
    ///
    /// # Errors
    /// As [`World::bundled`] and [`World::load`].
    pub fn from_choice(choice: &str, base_dir: &Path) -> Result<Self, InputError> {
        let path = Path::new(choice.trim());
        let ending = path
            .extension()
            .is_some_and(|end| end == "yaml" || end == "yml");
        if ending || choice.contains(['/', '\\']) {
            Self::load(&base_dir.join(path))
        } else {
            Self::bundled(choice)
        }
    }
}

fn unknown(name: &str, wanted: &str) -> InputError {
    let all = bundled_names().collect::<Vec<_>>().join(", ");
    let rest = format!(
        "bundled worlds are {all}; a world file is named by its path, like ./my-world.yaml"
    );
    let error = InputError::new(format!("unknown world `{}`", name.trim()));
    error.with_help(match closest(wanted, bundled_names()) {
        Some(meant) => format!("did you mean `{meant}`? {rest}"),
        None => rest,
    })
}

#[cfg(test)]
mod tests {
    use super::super::profile::{Above, Profile, TableRow};
    use super::*;
    use crate::world::Ussa1976;

    /// Rows of one data set of the Mars file; both sets published, sources at the head of the file.
    fn mars_rows(set: &str) -> Vec<TableRow> {
        let text = include_str!("../../tests/reference/mars.csv");
        let fields = text.lines().map(|line| line.split(',').collect::<Vec<_>>());
        let rows = fields.filter(|fields| fields.len() == 5 && fields[4] == set);
        let number = |text: &str| text.parse::<f64>().unwrap();
        rows.map(|row| TableRow {
            altitude_m: number(row[0]) * 1e3,
            temperature_k: Some(number(row[1])),
            pressure_pa: Some(number(row[2])),
            density_kg_m3: number(row[3]),
        })
        .collect()
    }

    #[test]
    fn every_bundled_world_is_listed_with_its_sources() {
        let all = listing().unwrap();
        assert_eq!(
            all.iter()
                .map(|world| (world.name, world.quality.words()))
                .collect::<Vec<_>>(),
            [
                ("earth", "published"),
                ("harkundra", "invented"),
                ("jupiter", "published"),
                ("mars", "published"),
                ("neptune", "coarse"),
                ("ozmerrun", "invented"),
                ("pelluvane", "invented"),
                ("saturn", "coarse"),
                ("tavrelle", "invented"),
                ("titan", "published"),
                ("uranus", "coarse"),
                ("venus", "published"),
            ]
        );
        for world in &all {
            assert!(
                world.floor_m <= 0.0 && world.entry_interface_m < world.top_m,
                "{}",
                world.name
            );
            let whats: Vec<_> = world
                .sources
                .iter()
                .map(|source| source.what.as_str())
                .collect();
            assert!(
                [
                    "body",
                    "gas",
                    "profile",
                    "profile.above",
                    "dispersion",
                    "wind"
                ]
                .iter()
                .all(|what| whats.contains(what)),
                "{whats:?}"
            );
        }
    }

    #[test]
    fn earth_flies_the_standard_atmosphere() {
        let (earth, standard) = (World::bundled("Earth").unwrap(), Ussa1976::new().unwrap());
        for km in [
            0.0, 15.0, 35.0, 50.0, 60.0, 70.0, 80.0, 90.0, 110.0, 121.92, 200.0, 999.0,
        ] {
            let (flown, exact) = (earth.air().lookup(km * 1e3), standard.at(km * 1e3));
            assert!(
                (flown.ln_density - exact.ln_density).abs() < 1e-6,
                "{km} km"
            );
            assert!(
                (flown.temperature_k.unwrap() / exact.temperature_k.unwrap() - 1.0).abs() < 1e-4,
                "{km} km"
            );
        }
        // 208 km of scale height above 1000 km, as the file states.
        let gone = earth.air().lookup(1_000e3).ln_density - earth.air().lookup(1_208e3).ln_density;
        assert!((gone - 1.0).abs() < 1e-12);
    }

    #[test]
    fn mars_flies_both_published_sets() {
        let mars = World::bundled("mars").unwrap();
        let global = mars_rows("NASA_TM_2024");
        let entry: Vec<_> = mars_rows("MPF")
            .into_iter()
            .filter(|row| row.altitude_m > 84e3)
            .collect();
        assert_eq!((global.len(), entry.len()), (28, 12));
        for row in global.iter().chain(&entry) {
            let flown = mars.air().lookup(row.altitude_m);
            // Global rows lie on knots of the flown table, those of the entry between two knots; at the
            // last one the stated scale height takes over from the measured one.
            let allowed = if row.altitude_m > 139e3 { 5e-4 } else { 2e-6 };
            assert!(
                (flown.ln_density - row.density_kg_m3.ln()).abs() < allowed,
                "{} m",
                row.altitude_m
            );
            assert!(
                (flown.temperature_k.unwrap() - row.temperature_k.unwrap()).abs() < 0.5,
                "{} m",
                row.altitude_m
            );
        }
        assert!(mars.air().top_m() >= 200e3 && mars.ground_m().abs() < 1e-9);
    }

    #[test]
    fn mars_joins_its_two_sets_without_a_step() {
        let mars = World::bundled("mars").unwrap();
        // Local scale heights from 70 to 95 km: the sets have 4.5 to 7.5 km there.
        for i in 0..=250 {
            let altitude_m = 70e3 + 100.0 * f64::from(i);
            let scale_height_m = -1.0 / mars.air().lookup(altitude_m).ln_density_per_m;
            assert!(
                (4.0e3..9.0e3).contains(&scale_height_m),
                "{scale_height_m} m at {altitude_m} m"
            );
        }
    }

    #[test]
    fn mars_air_has_the_molar_mass_of_its_gas() {
        // 43.49 kg/kmol as stated with the Pathfinder set (published). Above 105 km its own numbers
        // give less, 39.2 at 140 km, as lighter gases gain there: the gas of a world is that of mixed air.
        let mars = World::bundled("mars").unwrap();
        let molar_mass = mars.gas().unwrap().molar_mass_kg_kmol();
        assert!((molar_mass / 43.49 - 1.0).abs() < 1e-3, "{molar_mass}");
        for row in mars_rows("MPF")
            .into_iter()
            .filter(|row| row.altitude_m < 105e3)
        {
            let energy = row.density_kg_m3 * 8_314.462_618 * row.temperature_k.unwrap();
            let found = energy / row.pressure_pa.unwrap();
            assert!(
                (found / 43.49 - 1.0).abs() < 3e-4,
                "{found} at {} m",
                row.altitude_m
            );
        }
    }

    #[test]
    fn mars_air_carries_its_own_weight() {
        // dp/dz = -density g in the global mean (published), to the rounding of its figures and 1 %.
        let mars = World::bundled("mars").unwrap();
        let (gm, radius_m) = (mars.body().gm_m3_s2, mars.body().mean_radius_m());
        let rows = mars_rows("NASA_TM_2024");
        let profile = Profile::table(&rows, Above::default()).unwrap();
        for pair in rows.windows(2) {
            let (low, high) = (pair[0].altitude_m, pair[1].altitude_m);
            let weight = |i: u32| {
                let altitude_m = low + (high - low) * (f64::from(i) + 0.5) / 100.0;
                profile.at(altitude_m).ln_density.exp() * gm / (radius_m + altitude_m).powi(2)
                    * (high - low)
                    / 100.0
            };
            let carried: f64 = (0..100).map(weight).sum();
            let (below, above) = (pair[0].pressure_pa.unwrap(), pair[1].pressure_pa.unwrap());
            let error = carried / (below - above) - 1.0;
            let rounding = (half_unit(below) + half_unit(above)) / (below - above)
                + half_unit(pair[0].density_kg_m3) / pair[0].density_kg_m3;
            assert!(
                error.abs() < 0.01 + rounding,
                "{error} from {low} m, {rounding} by figures"
            );
        }
    }

    /// Half a unit of the third figure of a number.
    fn half_unit(value: f64) -> f64 {
        0.5 * 10f64.powf(value.log10().floor() - 2.0)
    }

    #[test]
    fn a_choice_is_a_name_or_a_path() {
        let here = Path::new(env!("CARGO_MANIFEST_DIR"));
        let by_path = World::from_choice("atmospheres/mars.yaml", here).unwrap();
        assert_eq!(by_path, World::from_choice(" MARS ", here).unwrap());
        let error = World::from_choice("eart", here).unwrap_err();
        assert_eq!(error.message(), "unknown world `eart`");
        assert!(
            error
                .help()
                .unwrap()
                .starts_with("did you mean `earth`? bundled worlds are earth, harkundra, jupiter,")
        );
        let error = World::from_choice("./nowhere.yaml", here).unwrap_err();
        assert!(error.message().contains("no such file"), "{error}");
    }
}
