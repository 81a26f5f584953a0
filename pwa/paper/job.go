package paper

import (
	"fmt"
	"math"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/compute/tape"
	"hangtrue/pwa/drawing"
	"hangtrue/pwa/words"
)

// A Job is what paper is made from: a plan, which one it is, and the steps to do.
type Job struct {
	Plan *plan.Plan
	// Template gives the steps and the cautions.
	Template *checklist.Template
	// Revision counts the settled plans of a job; SHA256 is that of the plan document,
	// in hexadecimal.
	Revision int
	SHA256   string
	// Draft marks a plan that nobody has settled: every sheet says so.
	Draft bool
}

func (j Job) system() tape.System { return j.Plan.Units.System() }

func (j Job) title() string { return clean(j.Plan.Title) }

// stamp says which plan a sheet was made from.
func (j Job) stamp() string {
	which := fmt.Sprintf("revision %d", j.Revision)
	if j.Draft {
		which = "DRAFT, not settled"
	}
	return joined(" · ", which, joined(" ", "plan", shortHash(j.SHA256)))
}

// shortHash is as much of a hash as two people compare aloud: 12 of its digits.
func shortHash(sha string) string {
	if sha = clean(sha); len(sha) < 12 {
		return sha
	}
	return sha[:4] + " " + sha[4:8] + " " + sha[8:12]
}

// caution is the text of each of the template's cautions.
func (j Job) cautions(ids ...string) []string {
	var texts []string
	for _, id := range ids {
		if c, ok := j.Template.Cautions[id]; ok {
			texts = append(texts, c.Text)
		}
	}
	return texts
}

// length shows one along a wall, as a tape reads.
func (j Job) length(metres float64) string { return tape.Format(metres, j.system()) }

// small shows a short length, to a tenth of a millimetre in a metric job.
func (j Job) small(metres float64) string {
	if j.system() == tape.Imperial {
		return tape.FormatSmall(metres, tape.Imperial)
	}
	if !(math.Abs(metres) <= tape.MaxLength) {
		return tape.Format(metres, tape.Metric)
	}
	return words.Decimals(metres*1000, 1) + " mm"
}

// bit shows the diameter of a drill bit: bits come in tenths of a millimetre, or in 64ths
// of an inch.
func (j Job) bit(metres float64) string {
	mm := words.Decimals(metres*1000, 1) + " mm"
	if j.system() == tape.Metric || !(metres > 0 && metres < 1) {
		return mm
	}
	n, of := int(math.Round(metres/0.0254*64)), 64
	for n > 0 && n%2 == 0 && of > 1 {
		n, of = n/2, of/2
	}
	if of == 1 {
		return fmt.Sprintf("%d\" (%s)", n, mm)
	}
	if n > of {
		return fmt.Sprintf("%d %d/%d\" (%s)", n/of, n%of, of, mm)
	}
	return fmt.Sprintf("%d/%d\" (%s)", n, of, mm)
}

// run shows a length of cable, which nobody cuts to the millimetre.
func (j Job) run(metres float64) string {
	if j.system() == tape.Imperial {
		return words.Decimals(metres/0.3048, 1) + " ft"
	}
	return words.Decimals(metres, 1) + " m"
}

// surfaceName says a surface as a heading has it.
func surfaceName(name string) string { return drawing.Capital(drawing.SurfaceName(clean(name))) }

// datum says from where the two tape coordinates of a surface are measured.
func (j Job) datum(surface string) (along, up string) {
	along, up = drawing.Datum(j.Plan, surface)
	return clean(along), clean(up)
}

func (j Job) upWord(surface string) string { return j.Plan.UpWord(surface) }
