// Package checklist is the job itself: the steps, the log, and the state that
// the log adds up to.
//
// Everything that happens on a job is an [Entry], made once on a device and
// never re-encoded. The server gives each a place in the log and a decision: a
// [Record]. A [State] is a pure fold over records; [State.Decide] is the one place
// where an entry is held against the hold points and judged, and it runs
// unchanged in the server and on the phone.
//
// Promises:
//   - no state reached by accepted records contains a step whose hold points
//     were not met when it was recorded;
//   - the same records give the same state, however often and in whatever order
//     they arrived ([Log]);
//   - an entry that a hold point refuses is kept with the reason;
//   - a photo is named by its hash, whether or not it is there ([Photo]);
//   - a record that the server decided is never judged again: its decision is
//     part of the log, and says by which edition of the steps it was made, so a
//     later edition changes no past job.
//
// A state can be written down and gone on from ([State.Snapshot], [Resume]): what it
// tells then is what the whole log comes to, and only what a [Past] gives is read again.
//
// The steps are data (steps.json, the newest edition; package editions has those of
// before, which are held to what they decided); their checks are Go functions found by name
// in package judge. Imports go to compute and to checklist's own folders only:
// nothing here knows a screen, a file, a network or a clock.
package checklist
