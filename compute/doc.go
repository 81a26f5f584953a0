// Package compute holds no code: it is the floor of pure calculation. Each folder
// is one subject, depends on no screen, file, network, clock or global state, and
// compiles alike into the server and into the phone's WebAssembly.
//
//	tape    lengths as people type them and tapes show them
//	place   room frame, surfaces, directions, aim, allowed zone, stud fit, fixes
//	layout  published loudspeaker layouts and their permitted ranges
//	gauge   what a measurement is worth: uncertainty and verdict
//	fixing  what holds the bracket
//	wiring  conductors, loss, loads, routes, channel map
//	sound   level, delay, headroom, crossover, calibration cross-check
//	rack    units, heat, air, mains load
//	figure  a number with its formula, inputs and source
//
// Nothing here may import checklist, pwa, server or cmd.
package compute
