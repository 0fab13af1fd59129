//! Ports, layouts and latency as the plug-in declares them.

use brunt_host::Port;

use crate::material::instance;

fn port(name: &str, channels: u32, main: bool) -> Port {
    Port { name: name.to_owned(), channels, main }
}

#[test]
fn default_is_stereo_with_a_stereo_side_chain() {
    let mut plugin = instance();
    assert_eq!(plugin.ports(true), [port("Mix", 2, true), port("Side-chain", 2, false)]);
    assert_eq!(plugin.ports(false), [port("Mix", 2, true)]);
}

#[test]
fn four_layouts_with_as_many_channels_out_as_in() {
    let mut plugin = instance();
    let got: Vec<_> = plugin.layouts().into_iter().map(|l| (l.name, l.ports, l.channels)).collect();
    let expected = [
        ("Stereo with side-chain", (2, 1), (2, 2)),
        ("Mono with side-chain", (2, 1), (1, 1)),
        ("Stereo", (1, 1), (2, 2)),
        ("Mono", (1, 1), (1, 1)),
    ];
    assert_eq!(got, expected.map(|(name, ports, channels)| (name.to_owned(), ports, channels)));
}

#[test]
fn no_latency() {
    let mut plugin = instance();
    assert_eq!(plugin.latency(), Some(0));
    let audio = plugin.activate(48_000.0, 512).expect("activates");
    assert_eq!(plugin.latency(), Some(0));
    plugin.deactivate(audio);
}

#[test]
fn the_id_is_the_one_that_sessions_hold() {
    assert_eq!(instance().id(), "org.brunt.brunt");
}
