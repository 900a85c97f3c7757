//! The claims of the stop, in the order of its header: any form, any place, nonsense around it, no false alarm.

use proptest::prelude::*;
use rosc::{OscPacket, OscType};

use super::tests::{IMMEDIATELY, bundle, packet, plain, string};
use super::{Heard, decode, is_stop};
use crate::wire::{Ask, sample};

#[test]
fn a_stop_is_a_stop_in_any_form() {
    let stop = b"/bellwire/stop\0\0";
    let cases: &[&[u8]] = &[
        stop,
        b"/bellwire/stop\0\0,\0\0\0",
        b"/bellwire/stop",
        b"/bellwire/stop\n",
        b"/bellwire/stop\r\n",
        b"/bellwire/stop\0",
        b"/bellwire/stop\0\0,f\0\0\0\0\0\0",
        b"/bellwire/stop\0\0,XYZ rubbish without an end",
        b"/bellwire/stop\0\0\xff\xff\xff",
        // Behind a length, as stream transports of OSC 1.0 send it.
        b"\0\0\0\x10/bellwire/stop\0\0",
        // Two messages without a bundle.
        b"/foo\0\0\0\0,\0\0\0/bellwire/stop\0\0",
        // Bundles: for another time, without a time, with a false size, cut off.
        b"#bundle\0\xee\xb0\xa3\x80\0\0\0\0\0\0\0\x10/bellwire/stop\0\0",
        b"#bundle\0\0\0\0\x10/bellwire/stop\0\0",
        b"#bundle\0/bellwire/stop\0\0",
        b"#bundle\0\0\0\0\0\0\0\0\x01/bellwire/stop\0\0",
        b"#bundle\0\0\0\0\0\0\0\0\x01\0\0\0\x07/bellwire/stop\0\0",
        b"#bundle\0\0\0\0\0\0\0\0\x01\0\0\0\x10/bellwire/stop",
        b"#bundle\0\0\0\0\0\0\0\0\x01\0\0\0\x08/foo\0\0\0\0\0\0\0\x10/bellwire/stop\0\0",
    ];
    for case in cases {
        assert!(is_stop(case), "{}", case.escape_ascii());
        let heard = decode(case, &sample::names());
        assert!(matches!(heard[0], Heard::Ask { ask: Ask::Stop, .. }), "{}", case.escape_ascii());
    }
}

#[test]
fn other_messages_are_no_stop() {
    let text = string("/bellwire/stop");
    let input = plain("/bellwire/input", vec![text.clone(), text.clone()]);
    let blob = plain("/foo", vec![OscType::Blob(b"/bellwire/stop\0\0".to_vec()), text.clone()]);
    for packet in [
        packet(&plain("/bellwire/stops", vec![])),
        packet(&plain("/bellwire/stop/it", vec![])),
        packet(&plain("/bellwire/sto", vec![])),
        packet(&plain("/x/bellwire/stop", vec![])),
        packet(&input),
        packet(&blob),
        packet(&bundle(IMMEDIATELY, vec![input.clone(), bundle((5, 0), vec![blob.clone(), input])])),
        b"/foo\0\0\0\0,X\0\0/bellwire/stop\0\0".to_vec(),
        b"".to_vec(),
    ] {
        assert!(!is_stop(&packet), "{}", packet.escape_ascii());
    }
}

fn argument() -> impl Strategy<Value = OscType> {
    prop_oneof![
        any::<i32>().prop_map(OscType::Int),
        any::<f32>().prop_filter("NaN is unequal to itself", |f| !f.is_nan()).prop_map(OscType::Float),
        any::<f64>().prop_filter("NaN is unequal to itself", |f| !f.is_nan()).prop_map(OscType::Double),
        "[ -~]{0,20}".prop_map(OscType::String),
        prop::collection::vec(any::<u8>(), 0..20).prop_map(OscType::Blob),
        any::<bool>().prop_map(OscType::Bool),
        Just(OscType::Nil),
    ]
}

fn address() -> impl Strategy<Value = String> {
    prop_oneof![
        "(/[a-z0-9]{1,9}){1,3}",
        "/bellwire/(go|hold|resume|standby|return|input|watch|unwatch|answer|[a-z]{1,8})",
    ]
    .prop_filter("the stop is put in by hand", |address| address != "/bellwire/stop")
}

/// Messages and bundles, nested, without a stop.
fn tree() -> impl Strategy<Value = OscPacket> {
    let leaf =
        (address(), prop::collection::vec(argument(), 0..5)).prop_map(|(address, args)| plain(&address, args));
    leaf.prop_recursive(12, 24, 4, |inside| {
        let tag = prop_oneof![Just(IMMEDIATELY), any::<(u32, u32)>()];
        (tag, prop::collection::vec(inside, 0..4)).prop_map(|(tag, content)| bundle(tag, content))
    })
}

/// Puts a stop into the tree: into the bundle that the digits lead to, or in place of a message.
fn with_stop(tree: OscPacket, way: &[usize], args: Vec<OscType>) -> OscPacket {
    let OscPacket::Bundle(mut open) = tree else { return plain("/bellwire/stop", args) };
    let (step, way) = way.split_first().unwrap_or((&0, &[]));
    let at = step % (open.content.len() + 1);
    match open.content.get_mut(at) {
        Some(inside @ OscPacket::Bundle(_)) => *inside = with_stop(inside.clone(), way, args),
        Some(OscPacket::Message(_)) | None => open.content.insert(at, plain("/bellwire/stop", args)),
    }
    OscPacket::Bundle(open)
}

fn stop_tree() -> impl Strategy<Value = OscPacket> {
    (tree(), prop::collection::vec(0usize..5, 12), prop::collection::vec(argument(), 0..4))
        .prop_map(|(tree, way, args)| with_stop(tree, &way, args))
}

fn stop_place(packet: &[u8]) -> std::ops::Range<usize> {
    let stop = b"/bellwire/stop\0";
    let at = packet.windows(stop.len()).position(|window| window == stop).expect("a stop was put in");
    at..at + stop.len()
}

proptest! {
    #[test]
    fn a_legal_packet_without_a_stop_is_none(tree in tree()) {
        prop_assert!(!is_stop(&packet(&tree)));
    }

    #[test]
    fn a_stop_anywhere_legal_is_found(tree in stop_tree()) {
        let packet = packet(&tree);
        prop_assert!(is_stop(&packet));
        let heard = decode(&packet, &sample::names());
        let stops = heard.iter().filter(|heard| matches!(heard, Heard::Ask { ask: Ask::Stop, .. })).count();
        prop_assert_eq!(stops, 1);
        let first_is_stop = matches!(heard[0], Heard::Ask { ask: Ask::Stop, .. });
        prop_assert!(first_is_stop);
    }

    #[test]
    fn a_stop_is_found_with_any_other_byte_changed(
        tree in stop_tree(), at in any::<prop::sample::Index>(), byte: u8,
    ) {
        let mut packet = packet(&tree);
        let place = stop_place(&packet);
        let at = at.index(packet.len() - place.len());
        let at = if at < place.start { at } else { at + place.len() };
        packet[at] = byte;
        prop_assert!(is_stop(&packet), "byte {} of {}", at, packet.escape_ascii());
    }

    #[test]
    fn a_stop_is_found_however_the_packet_is_cut_behind_it(tree in stop_tree(), cut in any::<prop::sample::Index>()) {
        let packet = packet(&tree);
        let place = stop_place(&packet);
        let cut = place.end - 1 + cut.index(packet.len() - place.end + 2);
        prop_assert!(is_stop(&packet[..cut]));
    }

    #[test]
    fn any_bytes_are_taken(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        decode(&bytes, &sample::names());
    }

    #[test]
    fn any_mutation_of_a_packet_is_taken(
        tree in prop_oneof![tree(), stop_tree()],
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..8),
        cut in any::<prop::sample::Index>(),
    ) {
        let mut packet = packet(&tree);
        for (at, byte) in changes {
            let at = at.index(packet.len());
            packet[at] = byte;
        }
        packet.truncate(cut.index(packet.len() + 1));
        let heard = decode(&packet, &sample::names());
        let stop = matches!(heard.first(), Some(Heard::Ask { ask: Ask::Stop, .. }));
        prop_assert_eq!(stop, is_stop(&packet));
    }
}
