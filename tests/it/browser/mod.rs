//! The report of a band in a real browser: its limits are moved by the keyboard, and the band it then shows is
//! that of a fresh run. It needs Chromium, which `.ci/run` installs; so `cargo test` leaves it out.

mod driver;

use crate::cli::{Folder, periband, text};
use driver::{Browser, ENTER, LEFT, RIGHT};
use serde_json::Value;
use std::path::Path;

/// How far the page may be from a fresh run, km.
const NEAR_KM: f64 = 0.1;

fn own_world() -> String {
    crate::examples()
        .join("own-world.yaml")
        .display()
        .to_string()
}

/// The band as the page has it now, km.
fn shown(browser: &mut Browser) -> (f64, f64) {
    let edge = |value: Value| {
        value
            .as_str()
            .expect("a text")
            .parse::<f64>()
            .expect("a band")
    };
    let low = browser.value("document.getElementById('live-form').dataset.low");
    let high = browser.value("document.getElementById('live-form').dataset.high");
    (edge(low), edge(high))
}

/// The band of a run, km.
fn found(summary: &Value) -> (f64, f64) {
    let band = &summary["safe_periapsis_band_km"];
    let edge = |key: &str| band[key].as_f64().expect("a band");
    (edge("low"), edge("high"))
}

/// Runs the command that the page gives, in the page's folder.
fn run_again(browser: &mut Browser, folder: &Path) -> Value {
    let command = browser.text("live-command");
    // Words are quoted whole or not at all.
    let mut words: Vec<String> = Vec::new();
    for (i, part) in command.split('\'').enumerate() {
        if i % 2 == 1 {
            words.push(part.to_owned());
        } else {
            words.extend(part.split_whitespace().map(str::to_owned));
        }
    }
    assert_eq!(
        words[..3],
        ["periband", "band", "scenario.yaml"],
        "{command}"
    );
    let mut arguments: Vec<&str> = words[1..].iter().map(String::as_str).collect();
    arguments.extend(["--json", "--rows", "none", "--out", "again"]);
    let run = periband(folder, &arguments);
    assert!(run.status.success(), "{command}: {}", text(&run.stderr));
    serde_json::from_slice(&run.stdout).expect("a summary")
}

fn near(shown: (f64, f64), found: (f64, f64)) {
    assert!(
        (shown.0 - found.0).abs() < NEAR_KM && (shown.1 - found.1).abs() < NEAR_KM,
        "the page shows {shown:?} km, a run finds {found:?} km"
    );
}

#[test]
#[ignore = "needs Chromium; run by .ci/run"]
fn the_band_moves_with_a_limit_as_a_fresh_run_finds_it() {
    let folder = Folder::new("browser");
    let run = periband(&folder.0, &["band", &own_world(), "--json"]);
    let summary: Value = serde_json::from_slice(&run.stdout).expect("a summary");
    let place = folder.0.join("out/own-world/band");
    let page = place.join("report.html");
    let mut browser = Browser::start(&folder.0);
    browser.resize(1200, 900);
    browser.open(&page);
    let before = shown(&mut browser);
    let exact = "with nothing moved the page shows what the run found";
    assert_eq!(before, found(&summary), "{exact}");
    browser.picture("desktop");

    browser.tab_to("live-0");
    browser.press(RIGHT, 25);
    let after = shown(&mut browser);
    assert!(before.0 - after.0 > 2.0 * NEAR_KM, "{before:?} {after:?}");
    assert_eq!(browser.text("live-answer").find("Safe band"), Some(0));
    let valued = browser.value("document.getElementById('live-0').getAttribute('aria-valuetext')");
    let typed = browser.value("document.getElementById('live-0-number').value");
    assert_eq!(
        valued.as_str().map(|text| text.replace(" g", "")),
        typed.as_str().map(str::to_owned)
    );
    let again = run_again(&mut browser, &place);
    near(after, found(&again));

    browser.tab_to("live-probability");
    browser.press(LEFT, 3);
    let wider = shown(&mut browser);
    assert!(wider.1 - wider.0 > after.1 - after.0 + NEAR_KM, "{wider:?}");
    let again = run_again(&mut browser, &place);
    near(wider, found(&again));
    browser.picture("desktop-moved");

    browser.tab_to("live-reset");
    browser.press(ENTER, 1);
    assert_eq!(shown(&mut browser), before);

    let own = format!("\"file://{}\"", page.display());
    assert_eq!(
        browser.requests(),
        [own],
        "nothing but the page itself is asked for"
    );
    assert_eq!(browser.complaints(), Vec::<String>::new());
}

/// What cannot be is answered in words beside the field, and the band stays that of the last value; a probability that
/// the samples cannot show comes with a command that the program takes; nothing reads "-0 %".
#[test]
#[ignore = "needs Chromium; run by .ci/run"]
fn what_is_typed_is_answered() {
    let folder = Folder::new("typed");
    let run = periband(
        &folder.0,
        &["band", &own_world(), "--samples", "1000", "--quiet"],
    );
    assert!(run.status.success(), "{}", text(&run.stderr));
    let place = folder.0.join("out/own-world/band");
    let mut browser = Browser::start(&folder.0);
    browser.open(&place.join("report.html"));
    let type_ = |browser: &mut Browser, id: &str, typed: &str| {
        browser.value(&format!(
            "(() => {{ const e = document.getElementById('{id}-number'); e.value = '{typed}'; \
             e.dispatchEvent(new Event('input')); return new Promise(requestAnimationFrame).then(() => 1); }})()"
        ))
    };
    let before = shown(&mut browser);
    for typed in ["-3", "0", "1e9", ""] {
        type_(&mut browser, "live-0", typed);
        let told = browser.text("live-0-wrong");
        assert!(
            told.contains("write one from") && told.contains("still that of 1.5 g"),
            "{typed}: {told}"
        );
        assert_eq!(shown(&mut browser), before, "{typed}");
    }
    for typed in ["0", "100", "-1"] {
        type_(&mut browser, "live-probability", typed);
        let told = browser.text("live-probability-wrong");
        assert!(told.contains("write one from 0.0001"), "{typed}: {told}");
    }
    type_(&mut browser, "live-0", "1.4");
    assert_eq!(browser.text("live-0-wrong"), "");
    type_(&mut browser, "live-probability", "99.8");
    let command = browser.text("live-command");
    assert!(command.contains("ask.samples="), "{command}");
    run_again(&mut browser, &place);
    // A limit that every sample breaks: none holds, and that is 0 %.
    type_(&mut browser, "live-probability", "50");
    type_(&mut browser, "live-0", "0.01");
    let answer = browser.text("live-answer");
    assert!(
        answer.contains(" 0 %") && !answer.contains("-0 %"),
        "{answer}"
    );
    assert_eq!(browser.complaints(), Vec::<String>::new());
}

#[test]
#[ignore = "needs Chromium; run by .ci/run"]
fn a_page_fits_a_phone_and_tells_what_it_shows() {
    let folder = Folder::new("phone");
    let example = crate::examples()
        .join("rolling-ship.yaml")
        .display()
        .to_string();
    let run = periband(
        &folder.0,
        &["band", &example, "--samples", "1500", "--quiet"],
    );
    assert!(run.status.success(), "{}", text(&run.stderr));
    let mut browser = Browser::start(&folder.0);
    browser.open(&folder.0.join("out/rolling-ship/band/report.html"));
    for (width, name) in [(360, "phone"), (768, "tablet"), (1200, "screen")] {
        browser.resize(width, 800);
        let wide = browser.value("document.documentElement.scrollWidth");
        assert!(wide.as_u64() <= Some(u64::from(width)), "{wide} at {width}");
        for dark in [false, true] {
            browser.dark(dark);
            browser.picture(&format!("{name}-{}", if dark { "dark" } else { "light" }));
        }
    }
    // Who cannot see the page is told the same.
    let untold = browser.value(
        "[...document.querySelectorAll('figure')].filter(f => !f.querySelector('figcaption').textContent.trim()).length",
    );
    assert_eq!(untold, 0);
    let unnamed = browser.value(
        "[...document.querySelectorAll('input')].filter(i => !(i.labels.length || i.ariaLabel)).length",
    );
    assert_eq!(unnamed, 0);
    let twice = browser.value(
        "(() => { const ids = [...document.querySelectorAll('[id]')].map(e => e.id); return ids.length - new Set(ids).size })()",
    );
    assert_eq!(twice, 0);
    assert_eq!(browser.complaints(), Vec::<String>::new());
}

#[test]
#[ignore = "needs Chromium; run by .ci/run"]
fn what_a_file_says_stays_text() {
    let folder = Folder::new("hostile");
    let hostile =
        "</script></title><script>window.taken = 1</script><img src=x onerror=window.taken=2>";
    let example =
        std::fs::read_to_string(crate::examples().join("rolling-ship.yaml")).expect("text");
    let scenario = example
        .replace(
            "title: The barge Ondrelleth rolls through the air of Mars",
            &format!("title: \"{hostile}\""),
        )
        .replace("name: antenna rim", &format!("name: \"{hostile}\""))
        .replace("highest_flux: 60 W/cm2", "highest_flux: 12 W/cm2");
    assert_eq!(
        scenario.matches(hostile).count(),
        2,
        "the example was changed"
    );
    std::fs::write(folder.0.join("hostile.yaml"), scenario).expect("written");
    let run = periband(
        &folder.0,
        &["band", "hostile.yaml", "--samples", "1500", "--quiet"],
    );
    assert!(run.status.success(), "{}", text(&run.stderr));
    let mut browser = Browser::start(&folder.0);
    browser.open(&folder.0.join("out/hostile/band/report.html"));
    assert_eq!(browser.value("typeof window.taken"), "undefined");
    assert_eq!(browser.value("document.title"), hostile);
    assert_eq!(browser.value("document.images.length"), 0);
    assert!(browser.text("live-form").contains(hostile));
    assert_eq!(browser.complaints(), Vec::<String>::new());
}
