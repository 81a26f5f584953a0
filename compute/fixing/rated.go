package fixing

import (
	"cmp"

	"hangtrue/compute/figure"
)

// A BaseKind is what the fixing goes into.
type BaseKind int

const (
	// Framing is a wooden stud, joist, rail or noggin.
	Framing BaseKind = iota
	// Masonry is brick or block.
	Masonry
	// Concrete is sound concrete.
	Concrete
	// HollowWall is a sheet other than gypsum board over a cavity.
	HollowWall
	// Plasterboard is gypsum board with nothing behind it. It never passes.
	Plasterboard
)

// String names the base.
func (k BaseKind) String() string {
	switch k {
	case Framing:
		return "framing"
	case Masonry:
		return "masonry"
	case Concrete:
		return "concrete"
	case HollowWall:
		return "hollow wall"
	case Plasterboard:
		return "plasterboard alone"
	}
	return "unknown base"
}

// ParseBase reads the name that [BaseKind.String] writes.
func ParseBase(name string) (BaseKind, error) {
	for k := Framing; k <= Plasterboard; k++ {
		if k.String() == name {
			return k, nil
		}
	}
	return 0, bad(ErrUnknownKind, "base.kind", `"`+name+`"`, `"framing", "masonry", "concrete", "hollow wall" or "plasterboard alone"`)
}

// A RatingBasis is what a maker's figure means.
type RatingBasis int

const (
	// NotStated is the zero value and is refused: a figure without its basis says
	// nothing.
	NotStated RatingBasis = iota
	// WorkingLoad already holds the maker's factor.
	WorkingLoad
	// FailureLoad is the load at which it failed in the maker's test.
	FailureLoad
)

// A Rating is a maker's figure for one fixing in one kind of base.
type Rating struct {
	For BaseKind
	// Pull and Shear are the rated loads, N. If the maker gives one figure, put it
	// in both.
	Pull, Shear float64
	Basis       RatingBasis
	// Factor divides a FailureLoad: at least 2 (published advice for hollow-wall
	// fixings: work below half the tested failure load); 4 is usual, common
	// practice, no source. For a WorkingLoad it is not used.
	Factor float64
}

const (
	leastFactor = 2.0
	usualFactor = 4.0
	sourceRated = "the maker's rating as entered"
)

func (r Rating) check() error {
	if err := cmp.Or(
		positive("rating.pull", r.Pull, 1e6, "N"),
		positive("rating.shear", r.Shear, 1e6, "N"),
	); err != nil {
		return err
	}
	switch {
	case r.Basis != WorkingLoad && r.Basis != FailureLoad:
		return bad(ErrRating, "rating.basis", "not stated", "working load or tested failure load")
	case r.Basis == WorkingLoad:
		return nil
	case !finite(r.Factor):
		return badNumber(ErrNotFinite, "rating.factor", r.Factor, "", "a number")
	case r.Factor < leastFactor:
		return badNumber(ErrRating, "rating.factor", r.Factor, "", "at least 2 on a tested failure load")
	case r.Factor > 1000:
		return badNumber(ErrTooLarge, "rating.factor", r.Factor, "", "at most 1000")
	}
	return nil
}

// judgeRated fills a screening by the maker's rating. Pull and shear are added in
// proportion (T/T_rated + V/V_rated), which is never kinder than any other rule.
func (s *Screening) judgeRated(j *job) error {
	r := j.fixing.Rating
	if err := r.check(); err != nil {
		return err
	}
	ultimate := j.load.Basis == UltimateValues
	if ultimate && r.Basis == WorkingLoad {
		return bad(ErrBasis, "rating.basis", "working load", "a tested failure load to compare with 4 times the weight")
	}
	w := &s.work
	w.divide = 1
	if r.Basis == FailureLoad && !ultimate {
		w.divide = r.Factor
		if r.Factor < usualFactor {
			s.caution("The factor on the tested failure load is below 4, which is usual (common practice, no source).")
		}
	}
	if r.For != j.base.Kind {
		s.refuse("Rated for another base", "The maker rates this fixing for "+r.For.String()+", and the base is "+j.base.Kind.String()+".",
			0, 0, "", sourceRated, figure.Published)
	}
	if j.base.Kind == HollowWall && j.load.hangs() {
		s.refuse("Sheet overhead", "A loudspeaker is not hung overhead from a sheet over a cavity: use the joists.", 0, 0, "", "", figure.CommonPractice)
	}
	if j.base.Lining > 0 && (j.base.Kind == Masonry || j.base.Kind == Concrete || j.base.Kind == Framing) {
		s.Open = append(s.Open, Finding{Name: "Plate off the base", Found: j.base.Lining, Unit: "m", Source: sourceRated, Mark: figure.CommonPractice,
			Says: "A rated load holds for a plate that bears on the base. With a lining between them, ask the maker for a rating at this stand-off."})
	}
	factor := j.load.Basis.factor()
	for i, f := range s.Forces {
		cap := &s.Capacities[i]
		cap.Pull = r.Pull / w.divide
		if j.load.shears() {
			cap.Shear = r.Shear / w.divide
		}
		cap.combine(factor*f.Tension, factor*f.Shear, interactLinear)
	}
	w.pull = r.Pull / w.divide
	return nil
}
