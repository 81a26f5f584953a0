// Package table reads and writes mounts and measured positions as CSV, for people who plan and measure with a
// spreadsheet.
//
// A file is a header row, which names the columns, and a row for each mount:
//
//	channel,loudspeaker,bracket,surface,along_m,up_m,fixing,cable,route_m,output,amplifier,amplifier_channel
//	M+030,Front A,Wall bracket,front,0.581,1.2,Stud screw,Loudspeaker cable,6.5,1,Amplifier 2,1
//	M-030,Front A,Wall bracket,front,"9' 10 7/8""",1.2,Stud screw,Loudspeaker cable,5,2,Amplifier 2,2
//
// The columns of a file of mounts are the keys of a mount in the plan document ([plan.Mount]), those of a measured file
// the keys of a measured mount ([plan.MeasuredMount]):
//
//	channel,along_m,up_m,height_m,distance_m,tilt_deg,tape,laser,level
//	M+030,0.581; 0.582,1.2,1.15,2.4,-0.1,tape,laser,level
//	M+030,0.581,,,2.401,,,,
//
// They come in any order; case does not matter, and a space is as good as the underscore. A column that ends in `_m` is
// metres or what a tape says, one in `_deg` is degrees; a number has a decimal point or comma. Repeat readings stand in
// one cell with ';' between them, or in several rows of their channel.
//
// What is read: UTF-8 with or without a byte order mark, at most [strict.MaxSize] bytes; CSV as RFC 4180 has it, with
// commas, semicolons or tabs, whichever the header's known names lie between, or the one that a first line "sep=;"
// names; any line break. Blank rows are passed over, empty cells at a row's end may be missing. Nothing is guessed: an
// unknown column, a column or a channel given twice, a cell too many are problems, and so is what package plan says of
// the plan that the file makes. Problems are told all at once, each with the row as a spreadsheet counts it and the
// column as the file names it ([Problem]).
//
// What is written reads back as it was: lengths to the micrometre, angles to the millionth of a degree, texts to the
// letter. A text that begins like a formula is written with an apostrophe before it, which reading takes away, so that
// it does nothing in a spreadsheet; an apostrophe of the text's own is kept. This holds while the file is opened with
// the delimiter it was written with.
//
// The package does not know files or spreadsheets' own formats, and judges nothing.
package table
