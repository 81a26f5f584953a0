// Package workings works out what follows from a plan as a whole: what its survey
// comes to, how every loudspeaker is fed, what the rack carries and draws, and what delay, level and
// bass come to at the primary listening position.
//
// Guarantees: what is returned is finite; every number that a person may want to
// follow by hand comes as a figure.Figure with its formula, inputs, source and
// trust mark; input that means nothing is an error that names the mount or the
// part of the plan and what was read. What the plan does not say is left out, and
// a word says why; nothing is made up for it. Where work can hurt, the caution
// comes with the numbers.
//
// It does not judge: which number passes is for package judge, which knows what
// was recorded. It knows no log, screen, file, network or clock.
package workings
