package paper

import (
	"fmt"
	"math"
	"slices"

	"hangtrue/checklist/workings"
	"hangtrue/compute/tape"
	"hangtrue/pwa/drawing"
	"hangtrue/pwa/words"
)

// spareFraction and leastSpare are what is bought of fixings beyond the holes: a tenth,
// rounded up, and two at the least. Common practice, no source.
const (
	spareFraction = 0.10
	leastSpare    = 2
)

// allowances says where the spares come from.
const allowances = "Spares are common practice, no source: of fixings a tenth, at least two of each kind; of cable a tenth of each run and a metre for its two ends."

// An item is one line of the shopping list. Cable is counted in metres, all else in
// pieces.
type item struct {
	group, name, detail string
	need, spare         float64
	metres              bool
}

func (i item) buy() float64 { return i.need + i.spare }

// shopping is what the plan takes. The error is why cable is not among it.
func (j Job) shopping() ([]item, error) {
	var all []item
	count := func(group string, names []string, detail func(name string) string, of func(name string) float64) {
		for _, name := range names {
			if n := of(name); n > 0 {
				all = append(all, item{group: group, name: name, detail: detail(name), need: n})
			}
		}
	}
	p := j.Plan
	used := func(of func(i int) (name string, n int)) ([]string, func(string) float64) {
		var names []string
		counts := map[string]float64{}
		for i := range p.Mounts {
			if name, n := of(i); name != "" {
				if _, seen := counts[name]; !seen {
					names = append(names, name)
				}
				counts[name] += float64(n)
			}
		}
		return names, func(name string) float64 { return counts[name] }
	}

	names, of := used(func(i int) (string, int) { return p.Mounts[i].Model, 1 })
	count("loudspeakers", names, func(name string) string {
		if m := p.Model(name); m != nil {
			return joined(", ", m.Kind, words.Decimals(m.Mass, 1)+" kg")
		}
		return ""
	}, of)
	names, of = used(func(i int) (string, int) { return p.Mounts[i].Bracket, 1 })
	count("brackets", names, func(name string) string {
		if b := p.Bracket(name); b != nil {
			return fmt.Sprintf("%d holes, rated for %s kg", max(1, len(b.Holes)), words.Decimals(b.RatedLoad, 1))
		}
		return ""
	}, of)
	if n := j.overhead(); n > 0 {
		all = append(all, item{group: "tethers", name: "Second tether", detail: "one for each loudspeaker overhead, fixed apart from its bracket", need: float64(n)})
	}
	names, of = used(func(i int) (string, int) { return p.Mounts[i].Fixing, len(j.pattern(&p.Mounts[i])) })
	from := len(all)
	count("fixings", names, func(name string) string {
		if f := p.Fixing(name); f != nil {
			return joined(", ", joined(" ", f.Kind, f.Size), j.small(f.Length)+" long")
		}
		return ""
	}, of)
	for i := range all[from:] {
		all[from+i].spare = math.Max(leastSpare, math.Ceil(all[from+i].need*spareFraction))
	}
	all = append(all, j.bits()...)
	for _, a := range p.Amplifiers {
		all = append(all, item{group: "electronics", name: a.Name, detail: fmt.Sprintf("amplifier, %d channels", a.Channels), need: 1})
	}
	if p.Processor.Name != "" {
		all = append(all, item{group: "electronics", name: p.Processor.Name, detail: fmt.Sprintf("processor, %d outputs", p.Processor.Outputs), need: 1})
	}
	sheet, err := workings.Feeds(p)
	if err != nil {
		return all, err
	}
	for _, b := range sheet.ToBuy {
		runs := "runs"
		if b.Runs == 1 {
			runs = "run"
		}
		all = append(all, item{group: "cable", name: b.Cable, detail: fmt.Sprintf("%s, %d %s", b.Conductor, b.Runs, runs), need: b.Net, spare: b.Total - b.Net, metres: true})
	}
	return all, nil
}

// overhead counts what hangs from a surface that faces down.
func (j Job) overhead() int {
	n := 0
	for _, s := range j.surfacesInUse() {
		if s.Normal().Z < -0.5 {
			for _, m := range j.mountsOn(s.Name) {
				if m.Bracket != "" {
					n++
				}
			}
		}
	}
	return n
}

// bits are the drill bits that the pilot holes take.
func (j Job) bits() []item {
	uses := map[string][]string{}
	var sizes []float64
	for i := range j.Plan.Mounts {
		m := &j.Plan.Mounts[i]
		if m.Bracket == "" {
			continue
		}
		d := j.pilot(m)
		if d <= 0 {
			continue
		}
		name := j.bit(d)
		if uses[name] == nil {
			sizes = append(sizes, d)
		}
		if !slices.Contains(uses[name], m.Fixing) {
			uses[name] = append(uses[name], m.Fixing)
		}
	}
	slices.Sort(sizes)
	var all []item
	for _, d := range sizes {
		all = append(all, item{group: "drill bits", name: "Drill bit " + j.bit(d), detail: "for " + list(uses[j.bit(d)]), need: 1})
	}
	return all
}

// amount shows how much of an item.
func (j Job) amount(i item, x float64) string {
	if i.metres {
		return j.run(x)
	}
	return words.Decimals(x, 0)
}

// Shopping is what the plan takes, with spares, and boxes to tick.
func (j Job) Shopping(size Size) Document {
	f := j.flow(size, "shopping", "Shopping list")
	items, err := j.shopping()
	f.para(allowances, normal, false)
	columns := []column{{head: "What", weight: 50}, {head: "Kind", weight: 62}, {head: "Needed", weight: 18, right: true}, {head: "Spare", weight: 16, right: true},
		{head: "Buy", weight: 18, right: true}, {head: "Have it", weight: 16}, {head: "Remark", weight: 30}}
	for from := 0; from < len(items); {
		to := from
		var rows [][]cell
		for ; to < len(items) && items[to].group == items[from].group; to++ {
			i := items[to]
			spare := ""
			if i.spare > 0 {
				spare = j.amount(i, i.spare)
			}
			rows = append(rows, []cell{{text: i.name, bold: true}, {text: i.detail}, {text: j.amount(i, i.need)}, {text: spare},
				{text: j.amount(i, i.buy()), bold: true}, {tick: true}, {blank: true}})
		}
		f.titled(drawing.Capital(items[from].group), columns, rows)
		from = to
	}
	if err != nil {
		f.heading("Cable", 8)
		f.notFrom(err)
	}
	if j.system() == tape.Imperial {
		f.para("Cable is told in feet, rounded to a tenth.", small, false)
	}
	f.cautions(j.cautions("load", "in-wall"))
	return f.finish()
}
