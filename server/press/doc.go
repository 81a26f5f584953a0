// Package press turns sheets into PDF files.
//
// Promises:
//   - a millimetre of a sheet is a millimetre of the page (72/25.4 points) and the
//     page's box is the sheet's; nothing is scaled to fit;
//   - the same sheets give the same bytes: the dates in a file are fixed, its metadata
//     names the document alone;
//   - the typeface is in the file, as much of it as is used. A character that it lacks
//     is printed as [paper.Missing].
//
// It is the one place that knows a PDF library, and it belongs to the server: the
// phone's program must not grow by it. It lays nothing out.
package press
