// Package paper lays out what a person carries to the wall: mark-out sheets, drilling
// templates in true size, cable labels and lists, from a plan and the number and hash of
// its revision.
//
// A [Document] is sheets; a [Sheet] is a list of marks (paths, circles, texts) in
// millimetres. It is laid out once, and two writers draw it: [Sheet.SVG] here, and PDF in
// server/press. Tables also come as CSV.
//
// Promises:
//   - every mark lies within what printers print ([Size.Printable]; on labels, which may
//     run to the edge of their sheet, 5 mm from it), whatever the plan says;
//   - no text is smaller than [Smallest], and no text covers another;
//   - a template is in true size: a millimetre of the plan is a millimetre of the sheet,
//     and each sheet has two bars of 100 mm to measure before drilling;
//   - every sheet but labels names the revision and the plan's hash; a draft says so;
//   - black on white, and nothing is told by grey alone;
//   - a text longer than its place is cut with an ellipsis, and a character that the
//     typeface lacks is told of on the sheet;
//   - a plan that is not finished is printed as far as it goes.
//
// Where work can hurt, the caution stands on the sheet and defers to local rules.
//
// It is for the server's program: the typeface alone is a quarter of what the phone's
// program may weigh, and a phone prints nothing. It knows no file, network or clock, and
// judges nothing.
package paper
