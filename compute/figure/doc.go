// Package figure describes one number shown to a person so that it can be opened
// and followed back to its formula, its inputs and its source.
//
// It holds data only: no arithmetic, no formatting of lengths, no screen. Values
// are SI, and the unit each is given in stands beside it.
//
// It does not check that a formula and a value agree; the package that computes
// the value does.
package figure
