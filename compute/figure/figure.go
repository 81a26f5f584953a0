package figure

// Mark says how far the source of a figure can be trusted. The zero value is
// empty and means that nobody has judged the source yet.
type Mark string

// The trust marks. Their text is what a reader sees.
const (
	// Published is a figure read in the publication it is attributed to.
	Published Mark = "published"
	// Secondary is a published figure read through somebody's transcription.
	Secondary Mark = "published, read in a transcription"
	// Derived is a figure computed here from others.
	Derived Mark = "derived here"
	// Memory is a figure recalled, whose source was not read.
	Memory Mark = "from memory, not verified"
	// CommonPractice is a habit of the trade for which no source was found.
	CommonPractice Mark = "common practice, no source"
)

// String returns the text shown to a reader.
func (m Mark) String() string { return string(m) }

// weight orders the marks from the strongest (0) to the weakest.
func (m Mark) weight() int {
	switch m {
	case Published:
		return 0
	case Secondary:
		return 1
	case Derived:
		return 2
	case CommonPractice:
		return 3
	case Memory:
		return 4
	}
	return 5
}

// Weakest returns the least trusted of the marks, which is the mark of a figure
// computed from all of them: a result is no better founded than its poorest
// input. An unknown or empty mark counts as the poorest. With no marks it
// returns [Derived].
func Weakest(marks ...Mark) Mark {
	if len(marks) == 0 {
		return Derived
	}
	worst := marks[0]
	for _, m := range marks[1:] {
		if m.weight() > worst.weight() {
			worst = m
		}
	}
	return worst
}

// Input is one value that went into a figure.
type Input struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}

// Figure is one computed value with everything needed to follow it by hand.
type Figure struct {
	// Name is what the value is, in the words of the field.
	Name string `json:"name"`
	// Formula is the equation in plain text, its letters explained by Inputs.
	Formula string `json:"formula"`
	// Source names the publication, edition and equation.
	Source string `json:"source"`
	// Mark says how far that source can be trusted.
	Mark Mark `json:"mark"`
	// Inputs are the values put into Formula, in the order it uses them.
	Inputs []Input `json:"inputs"`
	// Value is the result.
	Value float64 `json:"value"`
	// Unit is the unit of Value: an SI symbol, or empty for a plain ratio.
	Unit string `json:"unit"`
}
