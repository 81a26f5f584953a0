package wiring

import "hangtrue/compute/figure"

// Caution is a fact about cable in walls, to be shown where it matters. It is background: local code and the authority having
// jurisdiction decide.
type Caution struct {
	Topic  string
	Text   string
	Source string
	Mark   figure.Mark
}

// LocalCode is what is said wherever cable goes into a wall.
const LocalCode = "What may run inside a wall is decided by local code and the authority having jurisdiction, not by this program."

// Cautions are the facts about low-voltage cable in walls that the record should answer. The code articles are those of the
// United States unless the text says otherwise, read through secondary texts.
func Cautions() []Caution {
	return []Caution{
		{"amplifier output", "How the output may be wired (Class 1, 2 or 3) is marked on the amplifier. That marking decides, not a sum of watts.", "NEC 640.9(C)", figure.Secondary},
		{"Class 1 output", "An output marked Class 1 is wired like power, usually in raceway.", "NEC article 640, trade commentary of 2003", figure.Secondary},
		{"cable marking", "Write down the marking on the jacket. Plenum is above riser, riser above general, general above limited use; a higher one may stand in for a lower one, and CL3 for CL2.", "published handbook of sound engineering; NEC 725", figure.Secondary},
		{"place", "Plenum cable for ducts and air spaces, riser cable from floor to floor, general cable elsewhere. Limited-use cable: dwellings, raceway, or at most 3 m exposed.", "published handbook of sound engineering", figure.Secondary},
		{"code numbering", "The 2023 edition moves cable listing to article 722 and Class 1 to 724; Class 2 stays in 725.", "NEC 2023", figure.Memory},
		{"one box, one system", "Not in one cable, raceway, box or tray with power or Class 1 unless an exception such as a fixed barrier applies.", "NEC 725.136(A), (B)", figure.Secondary},
		{"in boxes", "Where they must meet to connect equipment, keep 6 mm (0.25 in) apart.", "NEC 725.136(D)", figure.Secondary},
		{"open power conductors", "Keep 50 mm (2 in) from open power conductors. Raceway or sheathed cable on either side lifts this.", "NEC 725.136(I), read in a discussion; its text is from memory", figure.Memory},
		{"noise", "Cross mains at right angles, avoid long parallel runs, keep about 300 mm apart.", "habit of the trade", figure.CommonPractice},
		{"framing", "Keep cable 32 mm (1 1/4 in) from the edge of a stud or joist, or put a steel plate of 1.6 mm (1/16 in) before it. Fishing in finished walls is excepted.", "NEC 300.4(A), (D)", figure.Secondary},
		{"rated walls and floors", "Seal openings through fire-rated walls and floors.", "NEC 300.21", figure.Secondary},
		{"left-over cable", "Accessible cable that ends nowhere and has no tag must come out.", "NEC 640.2", figure.Secondary},
		{"mains cords", "A flexible mains cord is not a wiring method inside walls.", "NEC 400.12", figure.Memory},
		{"Europe", "Cable installed permanently needs a declaration of performance. The Euroclass (Aca best to Fca) for a building is set by each state.", "Regulation (EU) 305/2011, EN 50575:2014", figure.Secondary},
		{"two amplifiers on one loudspeaker", "Take the links on the back out first: fitted, they join the amplifiers' outputs.", "loudspeaker manuals, general wording", figure.Secondary},
		{"links", "Amplifier off and unplugged before a link is fitted or removed.", "this program's own rule", figure.Derived},
	}
}
