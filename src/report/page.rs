//! A page that holds a whole report: one HTML file that asks nothing of the network. What is on it is handed
//! over as sections; how it looks is in `page.html`. A script is on it only beside limits that can be moved.

use minijinja::{Environment, Value, context};

use super::caution::CAUTION;
use super::error::ReportError;
use super::figure::Figure;
use super::grid::{Cell, Grid, Tone};
use super::live::{self, LiveLimits};

/// A page. The caution is part of every page and need not be handed over.
#[derive(Debug, Clone, Default)]
pub struct Page {
    /// Title.
    pub title: String,
    /// The answer, in one or two sentences.
    pub lead: String,
    /// Whether the answer is good or bad news.
    pub tone: Tone,
    /// The rest, in order.
    pub sections: Vec<Section>,
}

/// A section of a page.
#[derive(Debug, Clone, Default)]
pub struct Section {
    /// Heading.
    pub heading: String,
    /// What is below it.
    pub blocks: Vec<Block>,
}

/// A part of a section. All texts are plain: what looks like a tag is shown as it is.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub enum Block {
    /// A paragraph.
    Text(String),
    /// A list of short texts.
    List(Vec<String>),
    /// A table with a caption, which may be empty.
    Table {
        /// What the table shows.
        caption: String,
        /// The table.
        grid: Grid,
    },
    /// A figure with its description in words.
    Figure {
        /// The figure as SVG, as [`Figure::svg`] draws it.
        svg: Drawing,
        /// What it shows.
        description: String,
    },
    /// Limits that can be moved; at most one a page.
    Live(Box<LiveLimits>),
    /// A text whose line breaks and spaces count, such as the scenario as run.
    Preformatted(String),
}

/// An SVG that this program has drawn, and that may therefore stand on a page as it is.
#[derive(Debug, Clone)]
pub struct Drawing(String);

impl Block {
    /// A figure, drawn and described by itself.
    ///
    /// # Errors
    /// [`ReportError::Figure`] when it cannot be drawn.
    pub fn figure(figure: &dyn Figure) -> Result<Self, ReportError> {
        Ok(Self::Figure {
            svg: Drawing(figure.svg()?),
            description: figure.describe(),
        })
    }

    fn value(&self, environment: &Environment<'_>) -> Result<Value, ReportError> {
        Ok(match self {
            Self::Live(limits) => context! {
                kind => "live",
                html => Value::from_safe_string(limits.html(environment)?),
            },
            Self::Text(text) => context! { kind => "text", text => unbroken(text) },
            Self::List(items) => {
                let items: Vec<Value> = items
                    .iter()
                    .map(|item| Value::from(unbroken(item)))
                    .collect();
                context! { kind => "list", items }
            }
            Self::Table { caption, grid } => table(caption, grid),
            Self::Figure { svg, description } => context! {
                kind => "figure",
                svg => Value::from_safe_string(svg.0.clone()),
                description => unbroken(description),
            },
            Self::Preformatted(text) => context! { kind => "preformatted", text },
        })
    }
}

fn table(caption: &str, grid: &Grid) -> Value {
    let heads: Vec<Value> = grid
        .columns
        .iter()
        .map(|head| context! { title => head.title.as_str(), numeric => head.numeric })
        .collect();
    let cell = |(i, cell): (usize, &Cell)| {
        let number = grid.columns.get(i).is_some_and(|head| head.numeric);
        let classes = [if number { "number" } else { "" }, tone_class(cell.tone)];
        context! { text => cell.text.as_str(), classes => classes.join(" ").trim() }
    };
    let rows: Vec<Value> = grid
        .rows
        .iter()
        .map(|row| {
            row.iter()
                .enumerate()
                .map(cell)
                .collect::<Vec<Value>>()
                .into()
        })
        .collect();
    context! { kind => "table", caption => unbroken(caption), heads, rows, wide => grid.columns.len() > 4 }
}

/// The text with each number held to the unit or word after it, so that no line ends between them.
fn unbroken(text: &str) -> String {
    let mut held = String::with_capacity(text.len());
    let mut characters = text.chars().peekable();
    let mut after_digit = false;
    while let Some(character) = characters.next() {
        let before_word = characters
            .peek()
            .is_some_and(|c| c.is_alphabetic() || *c == '%');
        let hold = character == ' ' && after_digit && before_word;
        held.push(if hold { '\u{a0}' } else { character });
        after_digit = character.is_ascii_digit();
    }
    held
}

fn tone_class(tone: Tone) -> &'static str {
    match tone {
        Tone::Plain => "",
        Tone::Strong => "strong",
        Tone::Good => "good",
        Tone::Bad => "bad",
    }
}

impl Page {
    /// The page as one HTML file.
    ///
    /// # Errors
    /// [`ReportError::Page`] when the template cannot be filled in.
    pub fn html(&self) -> Result<String, ReportError> {
        let mut environment = Environment::new();
        environment.set_undefined_behavior(minijinja::UndefinedBehavior::Strict);
        // The name's ending is what turns the escaping of HTML on.
        environment.add_template("page.html", include_str!("page.html"))?;
        environment.add_template("live.html", include_str!("live.html"))?;
        let sections = self
            .sections
            .iter()
            .map(|section| section_value(section, &environment))
            .collect::<Result<Vec<Value>, ReportError>>()?;
        let mut blocks = self.sections.iter().flat_map(|section| &section.blocks);
        let live = blocks.any(|block| matches!(block, Block::Live(_)));
        Ok(environment.get_template("page.html")?.render(context! {
            version => env!("CARGO_PKG_VERSION"),
            title => self.title.as_str(),
            lead => unbroken(&self.lead),
            tone => tone_class(self.tone),
            caution => CAUTION,
            sections,
            script => live.then(|| Value::from_safe_string(live::SCRIPT.to_owned())),
            script_source => live.then(|| Value::from_safe_string(live::script_source())),
        })?)
    }
}

fn section_value(section: &Section, environment: &Environment<'_>) -> Result<Value, ReportError> {
    let blocks = section
        .blocks
        .iter()
        .map(|block| block.value(environment))
        .collect::<Result<Vec<Value>, ReportError>>()?;
    Ok(context! { heading => section.heading.as_str(), blocks })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::plot::lines::Lines;

    fn page() -> Page {
        let mut grid = Grid::new().words("limit <key>").numbers("held");
        grid.row([Cell::from("heat & flux"), Cell::new("99.91 %", Tone::Good)]);
        Page {
            title: "<script>alert(1)</script>".into(),
            lead: "Aim for 104.12 km.".into(),
            tone: Tone::Good,
            sections: vec![Section {
                heading: "Limits".into(),
                blocks: vec![
                    Block::Text("a < b".into()),
                    Block::List(vec!["one".into()]),
                    Block::Table {
                        caption: "The limits".into(),
                        grid,
                    },
                    Block::figure(&Lines::default()).unwrap(),
                    Block::Preformatted("title: <b>\n  x: 1".into()),
                ],
            }],
        }
    }

    #[test]
    fn a_page_escapes_what_it_is_given_but_not_its_figures() {
        let html = page().html().unwrap();
        assert!(!html.contains("<script"));
        assert!(html.contains("&lt;script&gt;alert(1)&lt;"));
        assert!(html.contains("<svg xmlns"));
        assert!(html.contains("title: &lt;b&gt;\n  x: 1"));
        assert!(
            html.contains("<td class=\"number good\">99.91 %</td>"),
            "{html}"
        );
        assert!(html.contains("heat &amp; flux"));
    }

    #[test]
    fn a_number_stays_with_its_unit() {
        assert_eq!(
            unbroken("at 104.12 km, 99.97 % hold"),
            "at 104.12\u{a0}km, 99.97\u{a0}% hold"
        );
        assert_eq!(unbroken("1 000 to"), "1 000\u{a0}to");
    }

    #[test]
    fn a_page_carries_the_caution_and_asks_nothing_of_the_network() {
        let html = page().html().unwrap();
        assert!(html.contains("not a basis for flight"));
        assert!(html.contains("default-src 'none'"));
        let outside = html.replace("http://www.w3.org/2000/svg", "");
        for way in [
            "http:", "https:", "url(", "@import", "src=", "<link", "<iframe",
        ] {
            assert!(!outside.contains(way), "{way}");
        }
    }
}
