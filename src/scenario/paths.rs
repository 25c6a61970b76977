//! Steps along dotted paths through a tree of values, to read a value or to put one in its place.

use super::message::InputError;
use super::value::{Step, Value};

pub(super) fn child<'v>(value: &'v Value, step: &Step) -> Option<&'v Value> {
    match (value, step) {
        (Value::Map(_), Step::Key(key)) => value.get(key),
        (Value::List(items), Step::Item(index)) => items.get(*index),
        _ => None,
    }
}

/// Follows the first part or, where keys have dots in them, the first few parts of a dotted path.
pub(super) fn step_into<'v, 'p>(
    value: &'v Value,
    parts: &'p [&'p str],
) -> Option<(Step, &'v Value, &'p [&'p str])> {
    match value {
        Value::Map(_) => (1..=parts.len()).rev().find_map(|count| {
            let key = parts[..count].join(".");
            value
                .get(&key)
                .map(|inner| (Step::Key(key), inner, &parts[count..]))
        }),
        Value::List(items) => {
            let (first, rest) = parts.split_first()?;
            let index = first.parse().ok()?;
            items
                .get(index)
                .map(|inner| (Step::Item(index), inner, rest))
        }
        _ => None,
    }
}

/// Puts a value into the tree and notes the steps that led there.
pub(super) fn put(
    node: &mut Value,
    parts: &[&str],
    value: Value,
    steps: &mut Vec<Step>,
) -> Result<(), InputError> {
    let Some((first, rest)) = parts.split_first() else {
        *node = value;
        return Ok(());
    };
    if *node == Value::Null {
        *node = Value::Map(Vec::new());
    }
    let known = step_into(node, parts).map(|(step, _, left)| (step, left));
    match (node, known) {
        (Value::Map(entries), Some((Step::Key(key), left))) => {
            let position = entries.iter().position(|(name, _)| *name == key);
            steps.push(Step::Key(key));
            match position {
                Some(position) => put(&mut entries[position].1, left, value, steps),
                None => Ok(()),
            }
        }
        (Value::Map(entries), _) => {
            let mut inner = Value::Null;
            steps.push(Step::Key((*first).to_owned()));
            put(&mut inner, rest, value, steps)?;
            entries.push(((*first).to_owned(), inner));
            Ok(())
        }
        (Value::List(items), Some((Step::Item(index), left))) => {
            steps.push(Step::Item(index));
            put(&mut items[index], left, value, steps)
        }
        (Value::List(items), _) => {
            let help = format!(
                "the list has {} entries; the first is number 0",
                items.len()
            );
            Err(InputError::new(format!("`{first}` is no entry of a list")).with_help(help))
        }
        (other, _) => Err(InputError::new(format!(
            "`{first}` cannot be set inside {}",
            other.words()
        ))
        .with_help("only sections and lists have something inside them")),
    }
}
