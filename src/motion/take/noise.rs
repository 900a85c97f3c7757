//! How much a recording scatters, and samples that cannot be motion.

/// Samples in a window of the estimate.
const WINDOW: usize = 5;
/// A window that spans more than so many times what windows usually span bridges dropped samples, and tells nothing.
const WIDE: f64 = 2.0;
/// The median of the absolute values of a normal scatter, in standard deviations.
const NORMAL_MEDIAN: f64 = 0.674_49;
/// Standard deviations by which a sample may be off its neighbours before it counts as a glitch.
const GLITCH: f64 = 10.0;

/// The standard deviation of what is not motion in values taken at rising `times`; 0 of fewer than five.
///
/// Divided differences of the fourth order over every five samples in a row, scaled to unit variance: what a cubic
/// explains is gone, noise stays (Gasser, Sroka and Jennen-Steinmetz, "Residual variance and residual pattern in
/// nonlinear regression", Biometrika 73, 1986, there of the second order). The median of their absolute values, so
/// that a few glitches do not count.
pub fn noise(times: &[f64], values: &[f64]) -> f64 {
    let usual = usual_span(times);
    let windows = times.windows(WINDOW).zip(values.windows(WINDOW));
    let narrow = windows.filter(|(times, _)| times[WINDOW - 1] - times[0] <= WIDE * usual);
    let left = narrow.map(|(times, values)| unexplained(times, values).abs());
    median(left.collect()) / NORMAL_MEDIAN
}

/// The sample that is farthest from where its neighbours, two on either side, have it, and how far, if that is more than
/// `tolerance` and than what noise explains.
pub fn glitch(times: &[f64], values: &[f64], tolerance: f64, noise: f64) -> Option<(usize, f64)> {
    let usual = usual_span(times);
    let most = tolerance.max(GLITCH * noise);
    let windows = times.windows(WINDOW).zip(values.windows(WINDOW)).enumerate();
    let narrow = windows.filter(|(_, (times, _))| times[WINDOW - 1] - times[0] <= WIDE * usual);
    let off = narrow.map(|(first, (times, values))| (first + WINDOW / 2, off_neighbours(times, values)));
    off.filter(|(_, off)| off.abs() > most).max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
}

/// s; the median over all windows.
fn usual_span(times: &[f64]) -> f64 {
    median(times.windows(WINDOW).map(|window| window[WINDOW - 1] - window[0]).collect())
}

/// What is left of five values when the cubic in them is taken out, as one value of the noise's own variance.
fn unexplained(times: &[f64], values: &[f64]) -> f64 {
    let scale = times[WINDOW - 1] - times[0];
    let weight = |k: usize| -> f64 {
        let others = (0..WINDOW).filter(|&other| other != k);
        others.map(|other| scale / (times[k] - times[other])).product()
    };
    let (sum, squares) = (0..WINDOW).fold((0.0, 0.0), |(sum, squares), k| {
        let weight = weight(k);
        (sum + weight * (values[k] - values[0]), squares + weight * weight)
    });
    sum / squares.sqrt()
}

/// The middle one of five values less the cubic through the others.
fn off_neighbours(times: &[f64], values: &[f64]) -> f64 {
    let middle = WINDOW / 2;
    let beside = || (0..WINDOW).filter(|&k| k != middle);
    let share = |k: usize| -> f64 {
        let others = beside().filter(|&other| other != k);
        others.map(|other| (times[middle] - times[other]) / (times[k] - times[other])).product()
    };
    values[middle] - beside().map(|k| share(k) * values[k]).sum::<f64>()
}

/// 0 of none.
fn median(mut values: Vec<f64>) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}
