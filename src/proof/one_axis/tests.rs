use proptest::prelude::*;

use super::*;
use crate::show::Unit;
use crate::stage::fixture::{add_axis, add_rig, empty_show, slide};
use glam::DVec3;

const TOLERANCE: f64 = 0.01;

/// Two axes with a travel of -10 to 10, of one rig each.
fn two() -> Show {
    let mut show = empty_show();
    for _ in 0..2 {
        add_rig(&mut show, DVec3::ZERO, 0.0, None);
        add_axis(&mut show, Unit::Metre, slide(DVec3::X, DVec3::ZERO), Vec::new());
    }
    for axis in &mut show.axes {
        (axis.travel, axis.tolerance) = ([-10.0, 10.0], TOLERANCE);
    }
    show
}

fn own() -> AxisId {
    AxisId::new(0)
}

/// What the first axis sees while the second may be anywhere in a place.
fn seen<T>(show: &Show, needs: &Condition, other: [f64; 2], look: impl FnOnce(&OneAxis<'_>) -> T) -> T {
    let place = |_: AxisId| Some(other);
    look(&OneAxis { show, needs, axis: own(), place: &place, said: &|_| None })
}

fn leaf() -> impl Strategy<Value = Atom> {
    let limit = || (-40_i32..=40).prop_map(|tenths| f64::from(tenths) / 10.0);
    let axis = || (0..2_usize).prop_map(AxisId::new);
    prop_oneof![
        (axis(), limit()).prop_map(|(axis, limit)| Atom::Above { axis, limit }),
        (axis(), limit()).prop_map(|(axis, limit)| Atom::Below { axis, limit }),
        (axis(), limit(), 0.2..1.5_f64).prop_map(|(axis, from, width)| Atom::Within {
            axis,
            from,
            to: from + width,
            modulo: None
        }),
        (axis(), limit(), 0.2..1.5_f64).prop_map(|(axis, from, width)| Atom::Within {
            axis,
            from,
            to: from + width,
            modulo: Some(3.0)
        }),
        limit().prop_map(|target| Atom::At {
            rig: crate::show::RigId::new(0),
            mark: String::new(),
            pose: vec![(own(), target)]
        }),
    ]
}

/// A condition over five leaves.
fn condition() -> impl Strategy<Value = Condition> {
    let leaf = (0..5_usize).prop_map(|at| Condition::Atom(AtomId::new(at)));
    leaf.prop_recursive(3, 10, 3, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 1..4).prop_map(Condition::All),
            prop::collection::vec(inner.clone(), 1..4).prop_map(Condition::Any),
            inner.prop_map(|part| Condition::Not(Box::new(part))),
        ]
    })
}

fn holds(show: &Show, needs: &Condition, pose: [f64; 2]) -> bool {
    let leaf = |id: AtomId| {
        show.atoms[id.index()].of_pose(show, &|axis| Some(pose[axis.index()])).unwrap_or(Truth::Unknown)
    };
    needs.judge(&leaf).permits()
}

proptest! {
    /// Up to its end the condition holds within the tolerance of every place that is passed; and where there is an end it does not
    /// hold a little more than the tolerance further on.
    #[test]
    fn an_axis_may_go_as_far_as_the_condition_holds_and_no_further(
        leaves in prop::collection::vec(leaf(), 5),
        needs in condition(),
        from in -6.0..6.0_f64,
        other in -6.0..6.0_f64,
        up in any::<bool>(),
    ) {
        let mut show = two();
        show.atoms = leaves;
        let way = if up { 1.0 } else { -1.0 };
        prop_assume!(holds(&show, &needs, [from, other]));
        let end = seen(&show, &needs, [other; 2], |axis| axis.end(from, way));
        let far = if end.is_finite() { end } else { (from + way * 20.0).clamp(-10.0, 10.0) };
        let most = far + way * TOLERANCE * 0.99;
        // From where it starts it need not keep the tolerance.
        for part in 0..=400 {
            let at = from + (most - from) * f64::from(part) / 400.0;
            prop_assert!(end == from || holds(&show, &needs, [at, other]), "{at} on the way from {from} to {end}");
        }
        if end.is_finite() && end != from {
            let beyond = end + way * (TOLERANCE + 1e-9);
            prop_assert!(!holds(&show, &needs, [beyond, other]), "{beyond} beyond the end {end}");
        }
    }

    /// What is permitted for a place of the other is so everywhere in it.
    #[test]
    fn what_is_permitted_over_a_place_holds_at_each_point_of_it(
        leaves in prop::collection::vec(leaf(), 5),
        needs in condition(),
        at in -6.0..6.0_f64,
        low in -6.0..6.0_f64,
        width in 0.0..2.0_f64,
    ) {
        let mut show = two();
        show.atoms = leaves;
        let permitted = seen(&show, &needs, [low, low + width], |axis| axis.permits(at));
        let everywhere = (0..=50).all(|part| holds(&show, &needs, [at, low + width * f64::from(part) / 50.0]));
        prop_assert!(!permitted || everywhere);
    }

    /// Led out, an axis never goes on from where the condition holds to where it does not, and never nearer to nothing.
    #[test]
    fn led_out_an_axis_gains_all_the_way(
        leaves in prop::collection::vec(leaf(), 5),
        needs in condition(),
        from in -6.0..6.0_f64,
        other in -6.0..6.0_f64,
        up in any::<bool>(),
    ) {
        let mut show = two();
        show.atoms = leaves;
        let way = if up { 1.0 } else { -1.0 };
        prop_assume!(!holds(&show, &needs, [from, other]));
        seen(&show, &needs, [other; 2], |axis| {
            if !axis.leads_out(from, way) {
                return Ok(());
            }
            let (nearest, out) = (axis.nearest(from, way), axis.way_out(from, way));
            let far = if out.is_finite() { out } else { nearest + way };
            prop_assert!((far - from) * way > 0.0);
            for part in 0..200 {
                let at = from + (nearest - from) * (f64::from(part) + 0.5) / 200.0;
                prop_assert!(axis.leads_out(at, way), "{at} on the way from {from} to {nearest}");
            }
            for part in 1..=200 {
                let at = nearest + (far - nearest) * f64::from(part) / 200.0;
                let beyond = (at - nearest) * way > 1e-5;
                prop_assert!(!beyond || holds(&show, &needs, [at, other]), "{at} beyond {nearest}, up to {far}");
            }
            Ok(())
        })?;
    }
}

#[test]
fn the_nearer_side_leads_out_and_the_middle_leads_both_ways() {
    let mut show = two();
    show.atoms = vec![
        Atom::Below { axis: own(), limit: -3.3 },
        Atom::Above { axis: own(), limit: 3.3 },
        Atom::Above { axis: AxisId::new(1), limit: -0.005 },
    ];
    let needs = Condition::Any((0..3).map(|at| Condition::Atom(AtomId::new(at))).collect());
    let hatch_open = [-2.4; 2];
    let ways = |from: f64| seen(&show, &needs, hatch_open, |axis| [-1.0, 1.0].map(|way| axis.leads_out(from, way)));
    assert_eq!(ways(-1.0), [true, false]);
    assert_eq!(ways(0.5), [false, true]);
    assert_eq!(ways(0.0), [true, true]);
    let out = seen(&show, &needs, hatch_open, |axis| axis.way_out(-1.0, -1.0));
    assert_eq!(out, f64::NEG_INFINITY);
    assert!((seen(&show, &needs, hatch_open, |axis| axis.nearest(-1.0, -1.0)) + 3.31).abs() < 1e-12);
    assert!((seen(&show, &needs, hatch_open, |axis| axis.end(-5.0, 1.0)) + 3.31).abs() < 1e-12);
    assert_eq!(seen(&show, &needs, [0.0; 2], |axis| axis.end(-5.0, 1.0)), f64::INFINITY);
    // On a deck that may come down meanwhile it does not go.
    assert!((seen(&show, &needs, [-0.1, 0.0], |axis| axis.end(-5.0, 1.0)) + 3.31).abs() < 1e-12);
    // Within the tolerance of the edge already: no nearer to it.
    assert_eq!(seen(&show, &needs, hatch_open, |axis| axis.end(-3.305, 1.0)), -3.305);
}
