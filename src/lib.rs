pub mod craft;
pub mod ensemble;
pub mod numeric;
pub mod pass;
pub mod report;
pub mod scenario;
pub mod study;
pub mod world;
