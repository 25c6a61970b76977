//! A small table of texts for people, built once and shown both on the screen and on the page.

/// How a cell is to be understood; it is also shown in words, never by colour alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Tone {
    /// As any other.
    #[default]
    Plain,
    /// The answer, or a row of totals.
    Strong,
    /// A limit held, a requirement met.
    Good,
    /// A limit broken, a requirement missed.
    Bad,
}

/// One cell.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Cell {
    /// What it says.
    pub text: String,
    /// How it is to be understood.
    pub tone: Tone,
}

impl Cell {
    /// A cell of this tone.
    pub fn new(text: impl Into<String>, tone: Tone) -> Self {
        Self {
            text: text.into(),
            tone,
        }
    }
}

impl<T: Into<String>> From<T> for Cell {
    fn from(text: T) -> Self {
        Self::new(text, Tone::Plain)
    }
}

/// A table: columns and rows. Rows may be shorter than there are columns.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Grid {
    pub(super) columns: Vec<Head>,
    pub(super) rows: Vec<Vec<Cell>>,
}

/// The head of a column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Head {
    pub(super) title: String,
    /// Whether it holds numbers, which are set flush right.
    pub(super) numeric: bool,
}

impl Grid {
    /// A table without columns.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a column of words.
    #[must_use]
    pub fn words(mut self, title: impl Into<String>) -> Self {
        self.columns.push(Head {
            title: title.into(),
            numeric: false,
        });
        self
    }

    /// Adds a column of numbers.
    #[must_use]
    pub fn numbers(mut self, title: impl Into<String>) -> Self {
        self.columns.push(Head {
            title: title.into(),
            numeric: true,
        });
        self
    }

    /// Adds a row.
    pub fn row<C: Into<Cell>>(&mut self, cells: impl IntoIterator<Item = C>) {
        self.rows.push(cells.into_iter().map(Into::into).collect());
    }

    /// Whether there are no rows.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }
}
