//! The verification of the program: every check that can be put as one number beside another,
//! each with its source, how that is known, its tolerance and, where it misses, why.

pub(crate) mod air_heat;
pub(crate) mod benchmarks;
pub(crate) mod campaigns;
pub(crate) mod capture;
pub(crate) mod chapman;
pub(crate) mod flights;
pub(crate) mod flown;
pub(crate) mod flying;
pub(crate) mod lifting;
pub(crate) mod orbits;
pub(crate) mod people_counts;
pub(crate) mod row;
pub(crate) mod sheet;
pub(crate) mod stardust;
pub(crate) mod steered;
pub(crate) mod theory;
pub(crate) mod walls;

use row::Row;

/// All rows, in the order of the table.
pub(crate) fn all_rows() -> Vec<Row> {
    [
        air_heat::rows(),
        walls::rows(),
        theory::rows(),
        chapman::rows(),
        lifting::rows(),
        benchmarks::rows(),
        orbits::rows(),
        capture::rows(),
        campaigns::rows(),
        people_counts::rows(),
        flights::rows(),
        steered::rows(),
        stardust::rows(),
    ]
    .concat()
}
