//! Tables and paragraphs for the terminal: 80 columns, plain in a pipe, colour only where it is allowed.

use super::grid::{Cell, Grid, Tone};

/// Width that output is made to fit, in columns of a terminal.
pub const WIDTH: usize = 80;
/// Space between two columns.
const GAP: &str = "  ";
/// A column of words is not made narrower than this.
const NARROWEST: usize = 8;

/// How text is put on a terminal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Terminal {
    /// Width to fit, in columns.
    pub width: usize,
    /// Whether colour and weight may be used; never in a pipe.
    pub colour: bool,
}

impl Default for Terminal {
    fn default() -> Self {
        Self {
            width: WIDTH,
            colour: false,
        }
    }
}

impl Terminal {
    /// A table with a rule under its head, each line ended by a line feed. Words are broken where
    /// the table would be too wide; numbers never are.
    ///
    /// ```
    /// use periband::report::grid::Grid;
    /// use periband::report::text::Terminal;
    /// let mut grid = Grid::new().words("limit").numbers("held");
    /// grid.row(["peak deceleration", "99.91 %"]);
    /// assert_eq!(
    ///     Terminal::default().table(&grid),
    ///     "limit                 held\n-----------------  -------\npeak deceleration  99.91 %\n",
    /// );
    /// ```
    #[must_use]
    pub fn table(self, grid: &Grid) -> String {
        let widths = self.widths(grid);
        let head: Vec<Cell> = grid
            .columns
            .iter()
            .map(|head| Cell::new(head.title.clone(), Tone::Strong))
            .collect();
        let mut text = self.row(grid, &widths, (&head, true));
        let rules: Vec<String> = widths.iter().map(|width| "-".repeat(*width)).collect();
        text += &rules.join(GAP);
        text.push('\n');
        for row in &grid.rows {
            text += &self.row(grid, &widths, (row, false));
        }
        text
    }

    /// Widths of the columns: what they hold, with the widest columns of words narrowed until the table fits.
    fn widths(self, grid: &Grid) -> Vec<usize> {
        let mut widths: Vec<usize> = grid
            .columns
            .iter()
            .enumerate()
            .map(|(i, head)| {
                let cells = grid.rows.iter().filter_map(|row| row.get(i));
                let widest = cells.map(|cell| columns_of(&cell.text)).max().unwrap_or(0);
                let title = if head.numeric {
                    three_lines(&head.title)
                } else {
                    columns_of(&head.title)
                };
                widest.max(title).max(1)
            })
            .collect();
        let room = self
            .width
            .saturating_sub(GAP.len() * widths.len().saturating_sub(1));
        loop {
            let used: usize = widths.iter().sum();
            let widest = (0..widths.len())
                .filter(|i| !grid.columns[*i].numeric && widths[*i] > NARROWEST)
                .max_by_key(|i| widths[*i]);
            match widest {
                Some(i) if used > room => {
                    widths[i] -= 1;
                }
                _ => return widths,
            }
        }
    }

    /// A row, over as many lines as its longest cell takes; its cells stand at the top, or at the bottom.
    fn row(self, grid: &Grid, widths: &[usize], (cells, low): (&[Cell], bool)) -> String {
        let columns: Vec<Vec<String>> = widths
            .iter()
            .enumerate()
            .map(|(i, width)| {
                cells
                    .get(i)
                    .map_or_else(Vec::new, |cell| broken(&cell.text, *width))
            })
            .collect();
        let height = columns.iter().map(Vec::len).max().unwrap_or(0).max(1);
        let mut text = String::new();
        for line in 0..height {
            let mut shown = String::new();
            for (i, width) in widths.iter().enumerate() {
                let skipped = if low { height - columns[i].len() } else { 0 };
                let part = line
                    .checked_sub(skipped)
                    .and_then(|line| columns[i].get(line));
                let part = part.map_or("", String::as_str);
                let space = " ".repeat(width.saturating_sub(columns_of(part)));
                let part = self.toned(part, cells.get(i).map_or(Tone::Plain, |cell| cell.tone));
                if i > 0 {
                    shown += GAP;
                }
                if grid.columns[i].numeric {
                    shown += &space;
                    shown += &part;
                } else {
                    shown += &part;
                    shown += &space;
                }
            }
            text += shown.trim_end();
            text.push('\n');
        }
        text
    }

    /// The text in the colour of its tone, where colour is allowed.
    #[must_use]
    pub fn toned(self, text: &str, tone: Tone) -> String {
        let code = match tone {
            _ if !self.colour || text.is_empty() => return text.to_owned(),
            Tone::Plain => return text.to_owned(),
            Tone::Strong => "1",
            Tone::Good => "1;32",
            Tone::Bad => "1;31",
        };
        format!("\u{1b}[{code}m{text}\u{1b}[0m")
    }

    /// The answer of a command: a paragraph, where colour is allowed in that of its tone up to its first colon or
    /// full stop.
    #[must_use]
    pub fn answer(self, text: &str, tone: Tone) -> String {
        let shown = self.paragraph(text, 0);
        // A point inside a number ends nothing.
        let ends = |(at, c): (usize, char)| {
            let next = shown[at + c.len_utf8()..].chars().next();
            (matches!(c, ':' | '.') && next.is_none_or(char::is_whitespace)).then_some(at)
        };
        let end = shown.char_indices().find_map(ends).unwrap_or(shown.len());
        let (first, rest) = shown.split_at(end);
        let lines: Vec<String> = first.lines().map(|line| self.toned(line, tone)).collect();
        lines.join("\n") + rest
    }

    /// A paragraph broken at spaces to fit, each line after the first indented by this many columns.
    #[must_use]
    pub fn paragraph(self, text: &str, indent: usize) -> String {
        let lines = broken(text, self.width.saturating_sub(indent).max(NARROWEST));
        let mut shown = lines.join(&format!("\n{}", " ".repeat(indent)));
        shown.push('\n');
        shown
    }
}

/// The least width at which a head takes at most three lines, without breaking its words.
fn three_lines(title: &str) -> usize {
    let longest = title.split(' ').map(columns_of).max().unwrap_or(0);
    (longest..columns_of(title))
        .find(|width| broken(title, *width).len() <= 3)
        .unwrap_or_else(|| columns_of(title))
}

/// How many columns of a terminal a text takes.
fn columns_of(text: &str) -> usize {
    text.chars()
        .map(|c| match u32::from(c) {
            // Marks that stand over the character before them, and characters that are two columns wide.
            0x0300..=0x036f | 0x200b..=0x200f | 0xfe00..=0xfe0f => 0,
            0x1100..=0x115f
            | 0x2e80..=0xa4cf
            | 0xac00..=0xd7a3
            | 0xf900..=0xfaff
            | 0xfe30..=0xfe6f
            | 0xff00..=0xff60
            | 0xffe0..=0xffe6
            | 0x1f300..=0x1faff => 2,
            _ => 1,
        })
        .sum()
}

/// The words of a text; a number and its unit are one.
fn words(text: &str) -> Vec<String> {
    const UNITS: [&str; 17] = [
        "%", "g", "g/s", "km", "s", "m/s", "kPa", "W/cm²", "W/cm2", "J/cm²", "J/cm2", "kg", "t",
        "d", "h", "min", "deg",
    ];
    let mut words: Vec<String> = Vec::new();
    let parts = text.split([' ', '\n', '\t']);
    for part in parts.filter(|part| !part.is_empty()) {
        let unit = part.trim_end_matches(['.', ',', ';', ':', ')']);
        match words.last_mut() {
            Some(number)
                if UNITS.contains(&unit) && number.ends_with(|c: char| c.is_ascii_digit()) =>
            {
                number.push(' ');
                number.push_str(part);
            }
            _ => words.push(part.to_owned()),
        }
    }
    words
}

/// A text in lines no wider than this, broken at spaces, and within a word only where the word is too wide.
fn broken(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    let mut used = 0;
    for word in words(text) {
        let wide = columns_of(&word);
        if used > 0 && used + 1 + wide <= width {
            if let Some(line) = lines.last_mut() {
                line.push(' ');
            }
            used += 1;
        } else if used > 0 {
            lines.push(String::new());
            used = 0;
        }
        for character in word.chars() {
            let step = columns_of(character.encode_utf8(&mut [0; 4]));
            if used + step > width && used > 0 {
                lines.push(String::new());
                used = 0;
            }
            if let Some(line) = lines.last_mut() {
                line.push(character);
            }
            used += step;
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limits() -> Grid {
        let mut grid = Grid::new()
            .words("limit")
            .numbers("allowed")
            .numbers("99.865 % of passes stay below")
            .words("held");
        grid.row(["peak deceleration", "3.50 g", "3.12 g", "yes"]);
        grid.row([
            "the longest continuous stay above two and a half standard gravities",
            "60.0 s",
            "71.2 s",
            "no",
        ]);
        grid
    }

    #[test]
    fn a_table_fits_the_terminal_and_breaks_words_not_numbers() {
        let shown = Terminal::default().table(&limits());
        assert!(shown.lines().all(|line| columns_of(line) <= 80), "{shown}");
        assert!(shown.contains("71.2 s"));
        let narrow = Terminal {
            width: 50,
            colour: false,
        }
        .table(&limits());
        assert!(
            narrow.lines().all(|line| columns_of(line) <= 50),
            "{narrow}"
        );
        assert!(!narrow.contains('\u{1b}'));
    }

    #[test]
    fn numbers_are_set_flush_right() {
        let shown = Terminal::default().table(&limits());
        let ends: Vec<usize> = ["3.12 g", "71.2 s"]
            .iter()
            .filter_map(|number| {
                let line = shown.lines().find(|line| line.contains(number))?;
                line.find(number).map(|at| at + number.len())
            })
            .collect();
        assert_eq!(ends.len(), 2);
        assert_eq!(ends[0], ends[1], "{shown}");
    }

    #[test]
    fn colour_changes_no_alignment() {
        let mut grid = limits();
        grid.row([
            Cell::new("heat flux", Tone::Bad),
            Cell::new("90 W/cm²", Tone::Plain),
        ]);
        let plain = Terminal::default().table(&grid);
        let coloured = Terminal {
            width: 80,
            colour: true,
        }
        .table(&grid);
        let mut stripped = coloured.clone();
        for code in ["\u{1b}[0m", "\u{1b}[1m", "\u{1b}[1;31m"] {
            stripped = stripped.replace(code, "");
        }
        let trimmed = |text: &str| {
            text.lines()
                .map(str::trim_end)
                .collect::<Vec<_>>()
                .join("\n")
        };
        assert_ne!(plain, coloured);
        assert_eq!(trimmed(&plain), trimmed(&stripped));
    }

    #[test]
    fn an_answer_is_coloured_up_to_its_first_stop() {
        let coloured = Terminal {
            width: 24,
            colour: true,
        };
        let text = "No safe band at 99.73 %. The best aim is 51 km.";
        assert_eq!(
            coloured.answer(text, Tone::Bad),
            "\u{1b}[1;31mNo safe band at 99.73 %\u{1b}[0m.\nThe best aim is 51 km.\n"
        );
        let plain = Terminal {
            colour: false,
            ..coloured
        };
        assert_eq!(plain.answer(text, Tone::Bad), plain.paragraph(text, 0));
    }

    #[test]
    fn wide_and_odd_texts_are_broken_without_loss() {
        assert_eq!(columns_of("火星 e\u{301}"), 6);
        assert_eq!(broken("aaaa bbbbbbbb", 5), ["aaaa", "bbbbb", "bbb"]);
        assert_eq!(broken("", 5), [""]);
        assert_eq!(Terminal::default().table(&Grid::new()), "\n\n");
        let text = "word ".repeat(40);
        let shown = Terminal {
            width: 30,
            colour: false,
        }
        .paragraph(&text, 2);
        assert!(shown.lines().all(|line| line.len() <= 30));
        assert_eq!(shown.matches("word").count(), 40);
    }
}
