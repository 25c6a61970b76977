pub mod craft;
pub mod ensemble;
pub mod numeric;
pub mod pass;
pub mod scenario;
pub mod study;
pub mod world;
