// Package judge holds what was recorded at a step against the plan.
//
// Each check is a function found by the name that the step template gives, so
// that a template is data and the functions are plain Go over package compute.
// A check sees a [Case] and returns what it found with target, tolerance,
// expanded uncertainty, verdict and, where something is off, the correction in
// tape terms. The same functions serve the log's decisions, the pages and the
// check command.
//
// It knows no log, no screen and no clock.
package judge
