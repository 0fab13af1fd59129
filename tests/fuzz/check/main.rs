//! Each target of the crate for a fixed number of executions, and on every input of `kept/`.

mod driver;

/// Executions of each target here; `BRUNT_FUZZ_EXECUTIONS` asks for another number.
#[test]
fn state() {
    driver::run("state", 1_500);
}

#[test]
fn files() {
    driver::run("files", 3_000);
}

#[test]
fn process() {
    driver::run("process", 60);
}

#[test]
fn page() {
    driver::run("page", 150);
}

#[test]
fn view() {
    driver::run("view", 150);
}
