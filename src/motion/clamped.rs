//! Cubic splines with assigned speed and acceleration at both ends: Biagiotti and Melchiorri, *Trajectory Planning for
//! Automatic Machines and Robots*, 2008, section 4.4.4. Between two knots the acceleration is linear, so that each piece is one of
//! constant jerk.

use super::profile::Sample;

/// Through all of these, `step` s apart, but the second and the last but one, which are left free for the accelerations at the
/// ends. Of the first and the last all of the state counts, of the others the position; at least five. The jerk of each state is
/// that of the piece which begins there.
pub fn spline_through(wanted: &[Sample], step: f64) -> Vec<Sample> {
    let last = wanted.len() - 1;
    let [first, end] = [wanted[0], wanted[last]];
    let square = step * step;
    // The free two, but for the part that the acceleration there adds.
    let second = first.position + step * first.speed + square * first.acceleration / 3.0;
    let last_but_one = end.position - step * end.speed + square * end.acceleration / 3.0;
    let known = |k: usize| match k {
        1 => second,
        k if k == last - 1 => last_but_one,
        k => wanted[k].position,
    };
    // Of the accelerations at the inner knots: three diagonals.
    let inner = last - 1;
    let (mut below, mut on, mut above) = (vec![1.0 / 6.0; inner], vec![4.0 / 6.0; inner], vec![1.0 / 6.0; inner]);
    let mut right: Vec<f64> = (1..last).map(|k| (known(k - 1) - 2.0 * known(k) + known(k + 1)) / square).collect();
    right[0] -= first.acceleration / 6.0;
    right[inner - 1] -= end.acceleration / 6.0;
    (on[0], on[inner - 1]) = (1.0, 1.0);
    (below[1], above[inner - 2]) = (0.0, 0.0);
    for k in 1..inner {
        let part = below[k] / on[k - 1];
        on[k] -= part * above[k - 1];
        right[k] -= part * right[k - 1];
    }
    let mut gains = vec![0.0; last + 1];
    (gains[0], gains[last]) = (first.acceleration, end.acceleration);
    for k in (1..last).rev() {
        let beyond = if k == last - 1 { 0.0 } else { above[k - 1] * gains[k + 1] };
        gains[k] = (right[k - 1] - beyond) / on[k - 1];
    }
    let mut state = first;
    let mut states = Vec::with_capacity(last + 1);
    for k in 0..last {
        state.jerk = (gains[k + 1] - gains[k]) / step;
        state.acceleration = gains[k];
        states.push(state);
        state = state.after(step);
    }
    states.push(end);
    states
}
