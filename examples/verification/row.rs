//! One line of the verification table, and its words.

/// How an expected value is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Known {
    /// Read in a copy or a quotation of the source.
    Published,
    /// Published, but written down from memory of the source.
    FromMemory,
    /// Computed from the published equation by an independent program.
    Computed,
}

impl Known {
    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::Published => "published",
            Self::FromMemory => "from memory",
            Self::Computed => "computed",
        }
    }
}

/// How far a computed value may be from the expected one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Tolerance {
    /// As a share of the expected value.
    Relative(f64),
    /// In the unit of the value.
    Absolute(f64),
}

/// What the rows of one group share.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Group {
    pub(crate) name: &'static str,
    pub(crate) source: &'static str,
    pub(crate) known: Known,
}

/// A check.
#[derive(Debug, Clone)]
pub(crate) struct Row {
    pub(crate) group: Group,
    pub(crate) check: String,
    pub(crate) unit: &'static str,
    pub(crate) expected: f64,
    pub(crate) computed: f64,
    pub(crate) tolerance: Tolerance,
    /// What has to be said about it; may be empty.
    pub(crate) note: &'static str,
    /// Whether it is known to lie outside its tolerance, for the reason in the note.
    pub(crate) misses: bool,
}

impl Group {
    /// A row: what is checked, its unit, the expected and the computed value, and the tolerance.
    pub(crate) fn row(
        self,
        check: impl Into<String>,
        unit: &'static str,
        (expected, computed): (f64, f64),
        tolerance: Tolerance,
    ) -> Row {
        Row {
            group: self,
            check: check.into(),
            unit,
            expected,
            computed,
            tolerance,
            note: "",
            misses: false,
        }
    }

    /// The same group where a value is known in another way.
    pub(crate) fn known(self, known: Known) -> Self {
        Self { known, ..self }
    }
}

impl Row {
    /// The same row with the reason for which it is known to lie outside.
    pub(crate) fn outside_because(self, note: &'static str) -> Self {
        Self {
            note,
            misses: true,
            ..self
        }
    }

    /// The same row with a remark.
    pub(crate) fn noted(self, note: &'static str) -> Self {
        Self { note, ..self }
    }

    pub(crate) fn holds(&self) -> bool {
        let error = (self.computed - self.expected).abs();
        match self.tolerance {
            Tolerance::Relative(share) => error <= share * self.expected.abs(),
            Tolerance::Absolute(most) => error <= most,
        }
    }

    pub(crate) fn verdict(&self) -> &'static str {
        if self.holds() { "ok" } else { "outside" }
    }

    /// The difference in the terms of the tolerance.
    pub(crate) fn difference(&self) -> String {
        let error = self.computed - self.expected;
        match self.tolerance {
            Tolerance::Relative(_) => percent(error / self.expected.abs(), true),
            Tolerance::Absolute(_) => short(error),
        }
    }

    pub(crate) fn tolerance_words(&self) -> String {
        match self.tolerance {
            Tolerance::Relative(share) => percent(share, false),
            Tolerance::Absolute(most) => short(most),
        }
    }
}

fn percent(share: f64, signed: bool) -> String {
    let value = share * 100.0;
    let text = if value.abs() < 0.005 {
        format!("{value:.0e}")
    } else if value.abs() < 0.995 {
        format!("{value:.2}")
    } else {
        format!("{value:.1}")
    };
    let text = text.strip_suffix(".0").unwrap_or(&text);
    let sign = if signed && value > 0.0 { "+" } else { "" };
    format!("{sign}{text} %")
}

fn short(value: f64) -> String {
    if value == 0.0 {
        "0".to_owned()
    } else if value.abs() < 1e-3 {
        format!("{value:.0e}")
    } else {
        let text = format!("{value:.3}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    }
}

/// A value to seven significant digits.
pub(crate) fn number(value: f64) -> String {
    let size = value.abs();
    if size != 0.0 && !(1e-3..1e7).contains(&size) {
        return format!("{value:.5e}");
    }
    let mut digits = 6;
    let mut bound = 10.0;
    while size >= bound && digits > 0 {
        digits -= 1;
        bound *= 10.0;
    }
    let text = format!("{value:.digits$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}
