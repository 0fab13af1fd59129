//! Every sentence of the window's own, and of what else the plug-in says: titles, controls, empty
//! states, reasons. What is said about a measurement stands in `brunt_report::words`, which the
//! program on the command line says, too.

pub mod audition;
pub mod editor;
pub mod reference;
pub mod views;
