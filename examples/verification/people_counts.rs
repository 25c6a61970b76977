//! Rows of what people may be given, and of what counts of samples say.

use crate::verification::row::{Group, Known, Row, Tolerance};
use periband::craft::named_curves::NamedCurve;
use periband::ensemble::interval::{Interval, samples_needed};

const STANDARD: Group = Group {
    name: "Acceleration limits, +Gx seated",
    source: "NASA-STD-3001 Vol 2 Rev F, Table 6.5-1 [V2 6064]",
    known: Known::Published,
};
const MEMORANDUM: Group = Group {
    name: "Acceleration limits, +Gx seated",
    source: "NASA TM-104753 (1992), Table 3",
    known: Known::Published,
};
const WILKS: Group = Group {
    name: "Samples needed",
    source: "Wilks (1941), standard values from memory, all computed from the equation",
    known: Known::FromMemory,
};
const BINOMIAL: Group = Group {
    name: "Binomial intervals",
    source: "NIST/SEMATECH 7.2.4.1; Newcombe, Stat. Med. 17 (1998), Table I; from memory and computed",
    known: Known::FromMemory,
};

/// Source, name in the library, and points: duration (s) and limit (g).
type Curve = (Group, &'static str, &'static [(f64, f64)]);

/// The published curves.
const CURVES: [Curve; 5] = [
    (
        STANDARD,
        "nasa-std-3001-emergency",
        &[(0.5, 38.0), (120.0, 8.8), (300.0, 7.5), (1200.0, 5.0)],
    ),
    (
        STANDARD,
        "nasa-std-3001-non-deconditioned",
        &[(0.5, 19.0), (5.0, 16.0), (300.0, 7.5)],
    ),
    (
        STANDARD,
        "nasa-std-3001-deconditioned",
        &[
            (0.5, 14.0),
            (10.0, 10.0),
            (30.0, 8.0),
            (50.0, 6.3),
            (90.0, 5.0),
            (120.0, 4.3),
            (150.0, 4.0),
        ],
    ),
    (
        MEMORANDUM,
        "nasa-tm-104753-normal",
        &[(0.2, 20.0), (5.0, 16.0), (300.0, 8.0)],
    ),
    (
        MEMORANDUM,
        "nasa-tm-104753-deconditioned",
        &[(0.2, 15.0), (5.0, 12.0)],
    ),
];

pub(crate) fn rows() -> Vec<Row> {
    let mut rows = Vec::new();
    for (group, name, points) in CURVES {
        let curve = NamedCurve::find(name)
            .expect("the curves of the checks are named in the library")
            .curve();
        for &(seconds, limit) in points {
            let check = format!("{name}, {seconds} s");
            let found = (limit, curve.limit_g(seconds));
            rows.push(group.row(check, "g", found, Tolerance::Absolute(1e-9)));
        }
    }
    rows.extend(wilks());
    rows.extend(intervals());
    rows
}

fn wilks() -> Vec<Row> {
    let mut rows = Vec::new();
    for (probability, confidence, counts) in [
        (0.90, 0.95, [29, 46, 61]),
        (0.95, 0.95, [59, 93, 124]),
        (0.99, 0.95, [299, 473, 628]),
        (0.9973, 0.95, [1109, 1756, 2330]),
        (0.99865, 0.95, [2218, 3513, 4662]),
        (0.999, 0.95, [2995, 4742, 6294]),
    ] {
        for (failures, expected) in (0..).zip(counts) {
            let found = samples_needed(failures, probability, confidence)
                .map_or(f64::NAN, |n| n.to_string().parse().unwrap_or(f64::NAN));
            let check = format!("{failures} failures, {probability} at {confidence}");
            let pair = (f64::from(expected), found);
            rows.push(WILKS.row(check, "", pair, Tolerance::Absolute(0.0)));
        }
    }
    rows
}

fn intervals() -> Vec<Row> {
    let mut rows = Vec::new();
    let close = Tolerance::Absolute(1e-9);
    for (k, n, level, exact, score) in [
        (4, 20, 0.90, [0.071_353_884_3, 0.401_028_117_3], None),
        (
            81,
            263,
            0.95,
            [0.252_736_745_6, 0.367_621_922_6],
            Some([0.255_288_519_9, 0.366_209_577_0]),
        ),
        (
            15,
            148,
            0.95,
            [0.057_844_010_1, 0.161_650_490_3],
            Some([0.062_386_399_5, 0.160_487_241_7]),
        ),
        (
            0,
            20,
            0.95,
            [0.0, 0.168_433_471_0],
            Some([0.0, 0.161_125_158_1]),
        ),
        (
            1,
            29,
            0.95,
            [0.000_872_646_9, 0.177_644_295_5],
            Some([0.006_113_214_3, 0.171_755_218_8]),
        ),
    ] {
        let found = [
            (Some(exact), Interval::clopper_pearson(k, n, level), "exact"),
            (score, Interval::wilson(k, n, level), "Wilson"),
        ];
        for (expected, interval, method) in found {
            let Some([lower, upper]) = expected else {
                continue;
            };
            let (ours_lower, ours_upper) =
                interval.map_or((f64::NAN, f64::NAN), |i| (i.lower, i.upper));
            let check = |end: &str| format!("{k} of {n}, {method}: {end}");
            rows.push(BINOMIAL.row(check("lower"), "", (lower, ours_lower), close));
            rows.push(BINOMIAL.row(check("upper"), "", (upper, ours_upper), close));
        }
    }
    rows
}
