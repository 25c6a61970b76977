//! What the command line sets over a scenario, and the case that comes of it.

use super::args::ScenarioArgs;
use super::exit::CliError;
use crate::scenario::document::Document;
use crate::study::Case;

impl ScenarioArgs {
    /// The `--set` pairs, and after them what options of the command set: a key and the value, where it was given.
    ///
    /// # Errors
    /// A `--set` without `=`; the message says what was expected.
    fn overrides(
        &self,
        options: &[(&str, Option<u64>)],
    ) -> Result<Vec<(String, String)>, CliError> {
        let split = |text: &String| {
            text.split_once('=')
                .map(|(key, value)| (key.trim().to_owned(), value.trim().to_owned()))
                .ok_or_else(|| {
                    CliError::Usage(format!(
                        "--set expects KEY=VALUE, as in --set ship.mass=60t, got `{text}`"
                    ))
                })
        };
        let mut pairs = self.set.iter().map(split).collect::<Result<Vec<_>, _>>()?;
        let given =
            |(key, value): &(&str, Option<u64>)| Some(((*key).to_owned(), (*value)?.to_string()));
        pairs.extend(options.iter().filter_map(given));
        Ok(pairs)
    }

    /// The scenario with all of that set.
    ///
    /// # Errors
    /// As [`ScenarioArgs::overrides`] and [`Document::read`].
    pub(super) fn document(&self, options: &[(&str, Option<u64>)]) -> Result<Document, CliError> {
        let mut document = Document::read(&self.file)?;
        for (key, value) in self.overrides(options)? {
            document.set(&key, &value)?;
        }
        Ok(document)
    }

    /// The scenario with all of that set, ready to fly.
    ///
    /// # Errors
    /// As [`ScenarioArgs::document`] and [`Case::from_document`].
    pub(super) fn case(&self, options: &[(&str, Option<u64>)]) -> Result<Case, CliError> {
        Ok(Case::from_document(self.document(options)?)?)
    }
}
