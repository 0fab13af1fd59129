//! Linked instances: several of the built plug-in in one host, parts and the mix. A binary of its
//! own, since all instances of a process hear each other.

mod session;

mod bars;
mod drums;
mod lanes;
mod reading;
mod stage;
