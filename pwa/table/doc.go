// Package table has the pages on which a plan is made, at a table, before the
// drill comes out: survey, gear, spots, and settling what was drafted.
//
// Promises:
//   - a page is a pure function of a job's state and the path below its plan;
//   - what a form asks for is a list of inputs (fields.go): label, from where to where
//     it is measured, quantity. The same list shows a part, reads what is typed and
//     puts every complaint of package plan beside the input it is about;
//   - a number that was not touched keeps its exact value, whatever the units show;
//   - saving makes one edit of the draft, a change by name and by the hash of what it
//     replaces. Somebody else's edit in between is never written over: the later one
//     is refused, kept, and shown with the difference;
//   - nothing is decided here: what a plan must be is told by package plan, and what
//     an entry may do by package checklist.
package table
