//! What a rig with a lens sees in a pose: from where, which way, how wide, and from how near to how far sharply.

use super::camera::Sight;
use super::frame::Frame;
use super::optics::{Depth, Setting, field_of_view};
use crate::show::{Lens, RigId, Ring, Show};

/// As far as the tables of the lens tell it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    pub sight: Sight,
    /// Degrees across the picture.
    pub view: Option<f64>,
    /// m, at which it is focused.
    pub focus: Option<f64>,
    /// By focus, zoom and iris.
    pub depth: Option<Depth>,
}

/// What a rig sees; `None` if its file says nothing of its lens. `frames` are those of the pose.
pub fn look(show: &Show, rig: RigId, pose: &[f64], frames: &[Frame]) -> Option<Look> {
    let lens = show.rig(rig).lens.as_ref()?;
    let frame = frames[show.rig(rig).axis_ids().last()?.index()];
    let set = |ring: &Option<Ring>| ring.as_ref().map(|ring| ring.table.value(pose[ring.axis.index()]));
    let (focal, focus, stop) = (set(&lens.zoom), set(&lens.focus), set(&lens.iris));
    let setting = focal.zip(stop).map(|(focal, stop)| Setting { focal, stop, confusion: lens.confusion });
    Some(Look {
        sight: Sight::of(lens, &frame),
        view: focal.map(|focal| field_of_view(lens.sensor, focal)),
        focus,
        depth: setting.zip(focus).map(|(setting, focus)| setting.depth(focus)),
    })
}

impl Sight {
    /// Of a lens that hangs in a frame.
    pub fn of(lens: &Lens, frame: &Frame) -> Sight {
        Sight { from: frame.carry(lens.at), along: frame.turn * lens.forward }
    }
}

#[cfg(test)]
mod tests {
    use glam::DVec3;

    use super::*;
    use crate::show::{Scale, Table, Unit};
    use crate::stage::Stage;
    use crate::stage::fixture::{add_axis, add_rig, empty_show, turn};

    /// 50 mm at f/8, focused at 5 m: near 3.389371, far 9.527439 (Greenleaf); 39.597753° across 36 mm.
    #[test]
    fn a_look_is_what_the_tables_of_its_lens_make_of_the_pose() {
        let mut show = empty_show();
        let rig = add_rig(&mut show, DVec3::new(0.0, 1.0, 2.0), 0.0, None);
        let ring = |axis, scale, rows: [[f64; 2]; 2]| Some(Ring { axis, table: Table::new(scale, &rows).unwrap() });
        add_axis(&mut show, Unit::Degree, turn(DVec3::Z, DVec3::ZERO), Vec::new());
        let rings = [(); 3].map(|()| add_axis(&mut show, Unit::Percent, None, Vec::new()));
        show.rigs[0].lens = Some(Lens {
            focus: ring(rings[0], Scale::Reciprocal, [[0.0, 5.0], [100.0, 50.0]]),
            zoom: ring(rings[1], Scale::Logarithm, [[0.0, 25.0], [100.0, 100.0]]),
            iris: ring(rings[2], Scale::Logarithm, [[0.0, 4.0], [100.0, 16.0]]),
            ..Lens::PLAIN
        });
        let pose = [90.0, 0.0, 50.0, 50.0];
        let mut frames = Vec::new();
        Stage::new(&show).frames(&pose, &mut frames);
        let look = look(&show, rig, &pose, &frames).unwrap();
        let near =
            |found: f64, expected: f64| assert!((found - expected).abs() < 1e-6, "{found}, expected {expected}");
        near(look.focus.unwrap(), 5.0);
        near(look.view.unwrap(), 39.597_753);
        near(look.depth.unwrap().near, 3.389_371);
        near(look.depth.unwrap().far, 9.527_439);
        assert!((look.sight.along - DVec3::Y).length() < 1e-12 && look.sight.from == DVec3::new(0.0, 1.0, 2.0));
    }
}
