//! Counts as numbers to calculate with, and the middle of some numbers.

/// A count as a number: exact below 2^53, which no count here reaches. A negative one is none, and counts as the
/// largest there is.
#[expect(clippy::cast_precision_loss, reason = "counts stay below 2^53")]
pub fn real(count: impl TryInto<u64>) -> f64 {
    count.try_into().unwrap_or(u64::MAX) as f64
}

/// A number as a place in memory.
///
/// # Panics
/// Where the machine cannot have so many places: there is nothing at such a place that could be read.
#[must_use]
pub fn index(number: u64) -> usize {
    usize::try_from(number).expect("what is in memory is counted by a usize")
}

/// A small count, such as that of the burns of a plan or the rows of a table.
///
/// # Panics
/// Above four thousand millions, of which nothing here has so many.
#[must_use]
pub fn few(count: usize) -> u32 {
    u32::try_from(count).expect("there are few of them")
}

/// The middle of some numbers, of an even number of them that between the two in the middle; `None` of none. They are
/// put in order.
pub fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    match values.len() {
        0 => None,
        n if n % 2 == 1 => Some(values[middle]),
        _ => Some(f64::midpoint(values[middle - 1], values[middle])),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_lies_between_the_two_in_the_middle() {
        assert_eq!(median(&mut []), None);
        assert_eq!(median(&mut [3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median(&mut [4.0, 1.0, 2.0, 3.0]), Some(2.5));
    }

    #[test]
    fn counts_of_any_kind_are_the_same_number() {
        assert_eq!((real(7_u64), real(7_usize)), (7.0, 7.0));
    }
}
