// Package sound computes level, delay, power, headroom and crossover figures for loudspeakers around a seat, checks what a
// room calibration reports against the geometry, and reads polarity from a recorded impulse response.
//
// Guarantees: every result is finite; input that would make one that is not, or that lies outside the range a formula was
// published for, is an error that names the field, what was read and what is wanted. Nothing is read from or written to
// anywhere, and nothing depends on the time.
//
// Trust: where a formula or figure could not be read in its publication, its comment and its [figure.Figure] say
// "from memory, not verified" or "common practice, no source". Rules made here say so as well.
//
// Levels are direct sound in a free field, on axis. In a room the level falls more slowly beyond the critical distance, so
// a reading above a prediction is no fault. The package sets no target levels, does not model a room, and does not judge:
// [CrossCheck] returns deviations with standard uncertainties for package gauge to judge.
package sound
