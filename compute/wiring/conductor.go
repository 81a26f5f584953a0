package wiring

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"hangtrue/compute/figure"
)

// Conductor is one core of a cable: its size, its metal and the table its resistance comes from. It is made by
// [ParseConductor] or [AWG]; the zero value is no conductor. Equal conductors compare equal.
//
// The table decides the rule for other temperatures, and the three rules are never mixed:
//
//   - AWG by dimension and 100 % IACS copper at 20 °C, corrected by [CopperFactor];
//   - IEC 60228 maximum at 20 °C, corrected by [NominalFactor];
//   - NEC chapter 9 Table 8 at 75 °C, corrected by [TableFactor].
type Conductor struct {
	kind kind
	size int // AWG number (1/0 is 0, 4/0 is -3), or nominal area in hundredths of a square millimetre
}

type kind uint8

const (
	none kind = iota
	gaugeCopper
	gaugeClad
	gaugeSolidNEC
	gaugeStrandedNEC
	class1
	class2
	class5
	tinned1
	tinned2
	tinned5
	nominalClad
)

// The thickest and the thinnest AWG size: 4/0 and 36, the two points the size rule is defined by.
const (
	ThickestGauge = -3
	ThinnestGauge = 36
)

const (
	// resistivity is 100 % IACS copper at 20 °C, 1/58 ohm mm²/m in ohm metres (NBS Handbook 100, 1966: 0.017241).
	resistivity = 1e-6 / 58
	// cladSteps: copper-clad aluminium is roughly as resistive as copper two AWG sizes smaller (general encyclopaedia text).
	cladSteps = 2
	// maxText bounds a typed conductor in bytes; the longest sensible one has about 40.
	maxText = 64
)

// nominalRow is one size of IEC 60228: the greatest resistance at 20 °C in ohm/km for class 1, class 2, class 5, tinned
// class 1 or 2, tinned class 5. Read in makers' transcriptions of tables 1 to 3 of the 2004 edition; that the 2023
// edition leaves these sizes unchanged is from memory, not verified.
type nominalRow struct {
	size    int
	maximum [5]float64
}

var nominalTable = [...]nominalRow{
	{75, [5]float64{24.5, 24.5, 26.0, 24.8, 26.7}},
	{100, [5]float64{18.1, 18.1, 19.5, 18.2, 20.0}},
	{150, [5]float64{12.1, 12.1, 13.3, 12.2, 13.7}},
	{250, [5]float64{7.41, 7.41, 7.98, 7.56, 8.21}},
	{400, [5]float64{4.61, 4.61, 4.95, 4.70, 5.09}},
	{600, [5]float64{3.08, 3.08, 3.30, 3.11, 3.39}},
}

// necRow is one size of NEC chapter 9 Table 8, uncoated copper at 75 °C in ohm per 1000 ft: solid, stranded. Read in a
// transcription.
type necRow struct {
	gauge           int
	solid, stranded float64
}

var necTable = [...]necRow{
	{10, 1.21, 1.24},
	{12, 1.93, 1.98},
	{14, 3.07, 3.14},
	{16, 4.89, 4.99},
	{18, 7.77, 7.95},
}

// kilofoot is 1000 ft in metres.
const kilofoot = 304.8

// GaugeDiameter is the diameter in metres of a solid AWG conductor (n = 0 is 1/0, -3 is 4/0):
// d = 0.127 mm · 92^((36-n)/39). ASTM B258 fixes 36 AWG at 0.005 in and 4/0 at 0.46 in with 39 equal ratio steps
// between; the formula is from memory and agrees to four digits with a published wire table. Sizes beyond
// [ThickestGauge] and [ThinnestGauge] are an [ErrSize].
func GaugeDiameter(n int) (float64, error) {
	if n < ThickestGauge || n > ThinnestGauge {
		return 0, fmt.Errorf("%w: AWG: read %d, want %d (4/0) to %d", ErrSize, n, ThickestGauge, ThinnestGauge)
	}
	return gaugeDiameter(n), nil
}

func gaugeDiameter(n int) float64 { return 0.127e-3 * math.Pow(92, float64(36-n)/39) }

func gaugeArea(n int) float64 {
	d := gaugeDiameter(n)
	return math.Pi / 4 * d * d
}

// AWG is the solid copper conductor of gauge n (n = 0 is 1/0, -3 is 4/0). Other sizes are an [ErrSize].
func AWG(n int) (Conductor, error) {
	if _, err := GaugeDiameter(n); err != nil {
		return Conductor{}, err
	}
	return Conductor{gaugeCopper, n}, nil
}

// CopperFactor is R(t)/R(20) of 100 % IACS copper at t °C: 1 + 0.00393·(t - 20). IEC 60028; the coefficient is from
// memory, not verified.
func CopperFactor(t float64) (float64, error) {
	if err := checkTemperature(t); err != nil {
		return 0, err
	}
	return 1 + float64(0.00393*(t-20)), nil
}

// NominalFactor is k_t of IEC 60228, by which a resistance measured at t °C is brought to 20 °C: R20 = R_t·k_t,
// k_t = 250/(230 + t). The closed form reproduces every k_t printed in a transcription of the standard.
func NominalFactor(t float64) (float64, error) {
	if err := checkTemperature(t); err != nil {
		return 0, err
	}
	return 250 / (230 + t), nil
}

// TableFactor is R(t)/R(75) for the copper of NEC chapter 9 Table 8: 1 + 0.00323·(t - 75). The coefficient is from
// memory, not verified.
func TableFactor(t float64) (float64, error) {
	if err := checkTemperature(t); err != nil {
		return 0, err
	}
	return 1 + float64(0.00323*(t-75)), nil
}

// Area is the cross-section in square metres: of the gauge's circle, or the nominal one. A nominal cross-section is a name
// for a resistance, not a measured area: 2.5 mm² is neither 13 nor 14 AWG.
func (c Conductor) Area() float64 {
	switch {
	case c.kind == none:
		return 0
	case c.gauge():
		return gaugeArea(c.size)
	}
	return float64(c.size) * 1e-8
}

func (c Conductor) gauge() bool { return c.kind >= gaugeCopper && c.kind <= gaugeStrandedNEC }

// Tabled is the resistance of one core in ohms per metre as its table has it, and the temperature in °C it holds at:
// 20, or 75 for the NEC table. The zero Conductor is an [ErrConductor].
func (c Conductor) Tabled() (resistance, temperature float64, err error) {
	switch c.kind {
	case gaugeCopper:
		return resistivity / gaugeArea(c.size), 20, nil
	case gaugeClad:
		return resistivity / gaugeArea(c.size+cladSteps), 20, nil
	case nominalClad:
		// Two AWG sizes are a step of 92^(4/39) in area.
		return resistivity / c.Area() * math.Pow(92, 2.0*cladSteps/39), 20, nil
	case gaugeSolidNEC, gaugeStrandedNEC:
		for _, row := range necTable {
			if row.gauge == c.size && c.kind == gaugeSolidNEC {
				return row.solid / kilofoot, 75, nil
			}
			if row.gauge == c.size {
				return row.stranded / kilofoot, 75, nil
			}
		}
	case class1, class2, class5, tinned1, tinned2, tinned5:
		for _, row := range nominalTable {
			if row.size == c.size {
				return row.maximum[nominalColumn[c.kind]] / 1000, 20, nil
			}
		}
	}
	return 0, 0, fmt.Errorf("%w: none was given", ErrConductor)
}

var nominalColumn = [...]int{class1: 0, class2: 1, class5: 2, tinned1: 3, tinned2: 3, tinned5: 4}

// Resistance is the resistance of one core in ohms per metre at a temperature in °C, by the rule that belongs to the
// conductor's table. IEC 60228 values are maxima: a real core is usually a few percent better. Copper-clad aluminium is
// corrected as copper.
func (c Conductor) Resistance(temperature float64) (float64, error) {
	r, at, err := c.Tabled()
	if err != nil {
		return 0, err
	}
	factor, err := c.factor(temperature, at)
	if err != nil {
		return 0, err
	}
	return r * factor, nil
}

func (c Conductor) factor(temperature, at float64) (float64, error) {
	if temperature == at {
		return 1, nil
	}
	switch c.kind {
	case gaugeCopper, gaugeClad, nominalClad:
		return CopperFactor(temperature)
	case gaugeSolidNEC, gaugeStrandedNEC:
		return TableFactor(temperature)
	}
	k, err := NominalFactor(temperature)
	if err != nil {
		return 0, err
	}
	return 1 / k, nil
}

// Figure is [Conductor.Resistance] with its formula and source.
func (c Conductor) Figure(temperature float64) (figure.Figure, error) {
	r, err := c.Resistance(temperature)
	if err != nil {
		return figure.Figure{}, err
	}
	tabled, at, err := c.Tabled()
	if err != nil {
		return figure.Figure{}, err
	}
	f := figure.Figure{
		Name:   "resistance of one core, " + c.String(),
		Inputs: []figure.Input{{Name: "R0", Value: tabled, Unit: "ohm/m"}, {Name: "t", Value: temperature, Unit: "°C"}},
		Value:  r, Unit: "ohm/m",
	}
	corrected := temperature != at
	switch c.kind {
	case gaugeCopper:
		f.Formula, f.Mark = "R0·(1 + 0.00393·(t - 20)), R0 = (1/58 ohm mm²/m)/A", figure.Derived
		f.Source = "ASTM B258 size rule (from memory, agrees with a published table to four digits); NBS Handbook 100 (1966), 100 % IACS copper"
	case gaugeClad, nominalClad:
		f.Formula, f.Mark = "R0·(1 + 0.00393·(t - 20)), R0 = that of copper two AWG sizes smaller", figure.Secondary
		f.Source = "general encyclopaedia text: copper-clad aluminium is roughly as resistive as copper two AWG sizes smaller"
	case gaugeSolidNEC, gaugeStrandedNEC:
		f.Formula, f.Mark = "R0·(1 + 0.00323·(t - 75))", figure.Secondary
		f.Source = "NEC chapter 9 Table 8, uncoated copper at 75 °C"
	default:
		f.Formula, f.Mark = "R0·(230 + t)/250", figure.Secondary
		f.Source = "IEC 60228 (2004), greatest d.c. resistance at 20 °C"
		corrected = false // its temperature factors were read with the table
	}
	if corrected {
		f.Mark = figure.Weakest(f.Mark, figure.Memory)
		f.Source += "; temperature coefficient from memory, not verified"
	}
	return f, nil
}

// String is the conductor as [ParseConductor] reads it: "14 AWG", "14 AWG CCA", "14 AWG NEC stranded", "2.5 mm2 class 5
// tinned". The zero value is "none".
func (c Conductor) String() string {
	if c.kind == none {
		return "none"
	}
	return c.sizeText() + kindText[c.kind]
}

var kindText = [...]string{
	gaugeCopper: " AWG", gaugeClad: " AWG CCA", gaugeSolidNEC: " AWG NEC solid", gaugeStrandedNEC: " AWG NEC stranded",
	class1: " mm2 class 1", class2: " mm2 class 2", class5: " mm2 class 5",
	tinned1: " mm2 class 1 tinned", tinned2: " mm2 class 2 tinned", tinned5: " mm2 class 5 tinned",
	nominalClad: " mm2 CCA",
}

func (c Conductor) sizeText() string {
	switch {
	case !c.gauge():
		return strconv.FormatFloat(float64(c.size)/100, 'f', -1, 64)
	case c.size <= 0:
		return strconv.Itoa(1-c.size) + "/0"
	}
	return strconv.Itoa(c.size)
}

// MarshalText writes the conductor as [Conductor.String] does; the zero Conductor is an [ErrConductor].
func (c Conductor) MarshalText() ([]byte, error) {
	if c.kind == none {
		return nil, fmt.Errorf("%w: none was given", ErrConductor)
	}
	return []byte(c.String()), nil
}

// UnmarshalText reads what [ParseConductor] reads.
func (c *Conductor) UnmarshalText(text []byte) error {
	read, err := ParseConductor(string(text))
	if err == nil {
		*c = read
	}
	return err
}

// ParseConductor reads a size and a kind, in any case and order of words:
//
//	14 AWG, AWG 14, 1/0 AWG, 14 AWG solid      copper by dimension, 100 % IACS
//	14 AWG stranded, 14 AWG NEC solid          NEC chapter 9 Table 8; sizes 10, 12, 14, 16, 18
//	2.5 mm2 class 5, 2,5 mm² flexible          IEC 60228 maximum; class 1 is solid, 2 stranded, 5 flexible; may be tinned
//	14 AWG CCA, 2.5 mm2 CCA                    copper-clad aluminium
//
// Without a word for the metal it is copper. A nominal size without its class is refused: the classes differ. What cannot
// be read is an [ErrConductor], a size outside its table an [ErrSize].
func ParseConductor(text string) (Conductor, error) {
	refuse := func(sentinel error, want string) (Conductor, error) {
		shown := text
		if runes := []rune(text); len(runes) > maxText {
			shown = string(runes[:maxText]) + "…"
		}
		return Conductor{}, fmt.Errorf("%w: conductor: read %q, want %s", sentinel, shown, want)
	}
	if len(text) > maxText {
		return refuse(ErrConductor, fmt.Sprintf("at most %d characters", maxText))
	}
	var w words
	if want := w.read(text); want != "" {
		return refuse(ErrConductor, want)
	}
	c, want := w.conductor()
	if want != "" {
		return refuse(ErrConductor, want)
	}
	if want := c.outside(); want != "" {
		return refuse(ErrSize, want)
	}
	return c, nil
}

// words is what stood in a typed conductor.
type words struct {
	number                   string
	awg, mm2                 bool
	class                    int // 1, 2, 5; 0 when not given
	make                     int // the class the words solid, stranded, flexible stand for
	tinned, clad, nec, plain bool
}

// spelling brings the ways to write a unit to one word each.
var spelling = strings.NewReplacer(
	"mm²", " mm2 ", "mm^2", " mm2 ", "mm2", " mm2 ", "sq mm", " mm2 ", "sqmm", " mm2 ", "awg", " awg ",
	"class", " class ", "copper-clad aluminium", " cca ", "copper-clad aluminum", " cca ", "copper clad aluminium", " cca ",
	"copper clad aluminum", " cca ", "cca", " cca ", ",", ".",
)

const wanted = `a size and a kind such as "14 AWG", "2.5 mm2 class 5" or "16 AWG CCA"`

// read sorts the words of a text; want is not empty if one has no place.
func (w *words) read(text string) (want string) {
	fields := strings.Fields(spelling.Replace(strings.ToLower(text)))
	for i := 0; i < len(fields); i++ {
		switch f := fields[i]; f {
		case "awg":
			w.awg = true
		case "mm2":
			w.mm2 = true
		case "tinned":
			w.tinned = true
		case "cca":
			w.clad = true
		case "nec":
			w.nec = true
		case "copper", "plain":
			w.plain = true
		case "solid", "stranded", "flexible":
			word := map[string]int{"solid": 1, "stranded": 2, "flexible": 5}[f]
			if w.make != 0 && w.make != word {
				return "only one of solid, stranded, flexible"
			}
			w.make = word
		case "class":
			i++
			if i == len(fields) || w.class != 0 || (fields[i] != "1" && fields[i] != "2" && fields[i] != "5") {
				return "one class: 1, 2 or 5"
			}
			w.class = int(fields[i][0] - '0')
		default:
			if w.number != "" || strings.Trim(f, "0123456789./") != "" {
				return wanted
			}
			w.number = f
		}
	}
	if w.number == "" || w.awg == w.mm2 {
		return wanted
	}
	return ""
}

// conductor is what the words mean; want is not empty if they do not go together.
func (w *words) conductor() (c Conductor, want string) {
	if w.awg {
		return w.gauge()
	}
	return w.nominal()
}

func (w *words) gauge() (c Conductor, want string) {
	n, ok := gaugeNumber(w.number)
	switch {
	case !ok:
		return c, "a whole AWG number, or 1/0 to 4/0"
	case w.class != 0 || w.make == 5 || w.tinned:
		return c, "an AWG size solid or stranded: classes and tinned values are held for mm2 sizes only"
	case w.clad && (w.nec || w.plain || w.make != 0):
		return c, "copper-clad aluminium without another kind"
	case w.clad:
		return Conductor{gaugeClad, n}, ""
	case w.make == 2:
		return Conductor{gaugeStrandedNEC, n}, ""
	case w.nec && w.make == 0:
		return c, "NEC with solid or stranded"
	case w.nec:
		return Conductor{gaugeSolidNEC, n}, ""
	}
	return Conductor{gaugeCopper, n}, ""
}

func (w *words) nominal() (c Conductor, want string) {
	area, err := strconv.ParseFloat(w.number, 64)
	hundredths := math.Round(area * 100)
	switch {
	case err != nil || !(hundredths >= 1) || hundredths > 1e6 || math.Abs(area*100-hundredths) > 1e-6:
		return c, "a nominal size in mm2 such as 0.75 or 2.5"
	case w.nec:
		return c, "NEC with AWG sizes only"
	case w.clad && (w.class != 0 || w.make != 0 || w.tinned || w.plain):
		return c, "copper-clad aluminium without class: the class maxima held here are for copper"
	case w.clad:
		return Conductor{nominalClad, int(hundredths)}, ""
	case w.class != 0 && w.make != 0 && w.class != w.make:
		return c, "class 1 for solid, 2 for stranded, 5 for flexible"
	case w.class+w.make == 0:
		return c, "the class too: 1 (solid), 2 (stranded) or 5 (flexible)"
	}
	class := max(w.class, w.make)
	k := map[int]kind{1: class1, 2: class2, 5: class5}[class]
	if w.tinned {
		k += tinned1 - class1
	}
	return Conductor{k, int(hundredths)}, ""
}

// gaugeNumber reads 14, 0, 00, 000, 0000, and 1/0 to 4/0.
func gaugeNumber(text string) (n int, ok bool) {
	if zeros, slash := strings.CutSuffix(text, "/0"); slash {
		n, err := strconv.Atoi(zeros)
		return 1 - n, err == nil && n >= 1
	}
	if strings.Trim(text, "0") == "" {
		return 1 - len(text), true
	}
	n, err := strconv.Atoi(text)
	return n, err == nil
}

// outside tells the sizes of the conductor's table if its own is not one of them.
func (c Conductor) outside() (want string) {
	switch c.kind {
	case gaugeCopper, gaugeClad:
		if c.size < ThickestGauge || c.size > ThinnestGauge {
			return "4/0 AWG to 36 AWG"
		}
	case gaugeSolidNEC, gaugeStrandedNEC:
		for _, row := range necTable {
			if row.gauge == c.size {
				return ""
			}
		}
		return "10, 12, 14, 16 or 18 AWG: the NEC values held here"
	default:
		for _, row := range nominalTable {
			if row.size == c.size {
				return ""
			}
		}
		return "0.75, 1, 1.5, 2.5, 4 or 6 mm2"
	}
	return ""
}
