//! `periband campaign` as a user meets it.

use crate::cli::{Folder, example, periband, text};
use std::fs;
use std::path::Path;

fn campaign() -> String {
    let path = crate::examples().join("mars-campaign.yaml");
    path.display().to_string()
}

fn summary(folder: &Path) -> serde_json::Value {
    let text = fs::read(folder.join("summary.json")).expect("a summary");
    serde_json::from_slice(&text).expect("JSON")
}

#[test]
fn campaigns_are_answered_in_eighty_columns_with_all_their_files() {
    let folder = Folder::new("campaign");
    let said = |threads: &str, out: &str| {
        let file = campaign();
        let run = [
            "campaign",
            &file,
            "--campaigns",
            "9",
            "--threads",
            threads,
            "--out",
            out,
        ];
        let done = periband(&folder.0, &run);
        assert!(done.status.success(), "{}", text(&done.stderr));
        assert!(text(&done.stderr).is_empty(), "no progress bar in a pipe");
        text(&done.stdout)
    };
    let (one, two) = (said("1", "one"), said("2", "two"));
    assert!(one.starts_with("9 of 9 campaigns reach 600 km"), "{one}");
    for line in one.lines().filter(|line| !line.starts_with("Files:")) {
        assert!(line.chars().count() <= 80, "wider than 80 columns: {line}");
    }
    assert_eq!(one.replace("one/", ""), two.replace("two/", ""));
    let of = |out: &str| folder.0.join(out).join("mars-campaign/campaign");
    let (one, two) = (of("one"), of("two"));
    for name in [
        "campaigns.parquet",
        "passes.parquet",
        "passes.csv",
        "orbit_over_time.svg",
        "orbit_over_time.png",
        "passes_in_band.svg",
        "trims.png",
        "walls.svg",
        "report.html",
        "scenario.yaml",
    ] {
        let read = |path: &Path| fs::read(path.join(name)).unwrap_or_else(|_| panic!("{name}"));
        assert!(
            read(&one) == read(&two),
            "{name} differs with the number of threads"
        );
    }
    let mut summaries = [summary(&one), summary(&two)];
    for summary in &mut summaries {
        assert!(summary["wall_time_s"].is_f64());
        summary
            .as_object_mut()
            .expect("an object")
            .remove("wall_time_s");
    }
    let [summary, other] = summaries;
    assert_eq!(summary, other);
    for key in [
        "study",
        "complete",
        "campaigns",
        "probability_held",
        "probability_decayed",
        "endings",
        "at_campaigns",
        "limits",
        "walls",
        "control",
        "target",
        "example_campaign",
        "passes_flown",
    ] {
        assert!(!summary[key].is_null(), "{key} is missing");
    }
    assert_eq!(summary["endings"]["reached"], 9);
    // Clopper and Pearson: 0.025^(1/9) for nine of nine (closed form).
    let lower = summary["probability_held"]["lower"]
        .as_f64()
        .expect("a number");
    assert!((lower - 0.025_f64.powf(1.0 / 9.0)).abs() < 1e-9);
    let page = fs::read_to_string(one.join("report.html")).expect("a page");
    assert!(page.contains("not a basis for flight"));
    let table = fs::read_to_string(one.join("passes.csv")).expect("a table");
    let head = table.lines().next().unwrap_or_default();
    for column in [
        "pass",
        "time_d",
        "band_low_w_cm2",
        "met_w_cm2",
        "trim_m_s",
        "hottest_sun_panels_k",
    ] {
        assert!(
            head.split(',').any(|name| name == column),
            "{column} in {head}"
        );
    }
}

#[test]
fn a_scenario_without_a_campaign_and_one_that_cannot_be_flown_are_told_so() {
    let folder = Folder::new("no-campaign");
    let none = periband(&folder.0, &["campaign", &example()]);
    assert_eq!(none.status.code(), Some(2));
    let said = text(&none.stderr);
    assert!(
        said.contains("describes no campaign") && said.contains("help:"),
        "{said}"
    );
    let file = campaign();
    let set = "campaign.control.heat_flux={low: 1 W/cm2, high: 90 MW/m2}";
    for command in ["check", "campaign"] {
        let thin = periband(&folder.0, &[command, &file, "--set", set]);
        assert_eq!(thin.status.code(), Some(2), "{command}");
        let said = text(&thin.stderr);
        assert!(
            said.contains("no air of this world is thick enough"),
            "{said}"
        );
    }
    let narrow = "campaign.control.heat_flux={low: 0.4 W/cm2, high: 0.41 W/cm2}";
    let run = [
        "campaign",
        &file,
        "--set",
        narrow,
        "--campaigns",
        "4",
        "--out",
        "out",
    ];
    let done = periband(&folder.0, &run);
    assert!(done.status.success());
    let said = text(&done.stdout).replace('\n', " ");
    assert!(
        said.contains("The band of heat flux cannot be kept: only "),
        "{said}"
    );
    // One campaign is enough for an answer.
    let alone = periband(
        &folder.0,
        &["campaign", &file, "--campaigns", "1", "--out", "out"],
    );
    assert!(
        text(&alone.stdout).starts_with("1 of 1 campaigns"),
        "{}",
        text(&alone.stdout)
    );
    let exact = [
        "campaign",
        &file,
        "--set",
        "uncertainty={air: exact, heating: exact}",
        "--set",
        "campaign.trims=~",
        "--out",
        "out",
    ];
    let exact = periband(&folder.0, &exact);
    let said = text(&exact.stdout);
    assert!(
        said.starts_with("The campaign reaches 600 km with every limit held"),
        "{said}"
    );
}
