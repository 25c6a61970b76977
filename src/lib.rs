pub mod craft;
pub mod ensemble;
pub mod numeric;
pub mod pass;
pub mod scenario;
pub mod world;
