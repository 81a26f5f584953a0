// Package wiring computes the loudspeaker wiring of a room: what a cable loses, what an amplifier sees, how long the
// route is, and whether every loudspeaker has one amplifier channel and one output.
//
// Guarantees: bad input gets one error that names the field, what was read and what is wanted; no result is NaN or
// infinite; limits are compared as whole micro-ohms or parts per million, so that every processor decides alike; one
// resistance is never corrected with another table's temperature rule (see [Conductor]). Figures carry their source and
// how far it can be trusted.
//
// It counts resistance only, not inductance or capacitance, and it does not decide what may be run inside a wall:
// [Cautions] tells where local code decides.
package wiring
