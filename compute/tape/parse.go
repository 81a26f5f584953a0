package tape

import (
	"fmt"
	"strings"
)

const (
	// MaxLength is the largest length read or written, in metres. No house is longer; a larger number is a slip.
	MaxLength = 1000.0

	// MaxReadings is the most repeat readings [ParseMany] takes: nobody reads a tape more often, and a pasted page of
	// numbers is not a measurement.
	MaxReadings = 50

	// maxText bounds one typed length in bytes: the longest sensible one, feet, inches and a fraction spelled out, has about 30.
	maxText = 64
	// maxWhole and maxDecimals keep every intermediate product below 1e18, inside an int64.
	maxWhole       = 7
	maxDecimals    = 6
	maxDenominator = 128
	maxMicrometres = 1_000_000_000
)

// Reading is one length as typed.
type Reading struct {
	Length      float64 // metres, not rounded
	Resolution  float64 // metres: the place of the last digit written, or the fraction's denominator; never 0
	Micrometres int64   // Length to the nearest whole micrometre, halves away from zero
}

// Error tells why a text is not a length. Input is what was read (shortened), Want is what would be right.
type Error struct {
	Input string
	Want  string
}

// Error names what was read and what is wanted.
func (e *Error) Error() string { return fmt.Sprintf("tape: length: read %q, want %s", e.Input, e.Want) }

// Parse reads one length: metres, centimetres or millimetres as a decimal number with point or comma (`1.254`, `1,254`,
// `125.4 cm`, `1254 mm`), inches and feet also with fractions (`49 3/8"`, `4' 1-3/8"`, `4ft 1 3/8in`, `3/8"`, `1⅜″`).
// A number without a unit counts bare units; after feet it counts inches. A sign may lead, spaces may stand between the parts.
//
// Refused with an [*Error]: anything that is not such a length, more than [MaxLength], fractions of 1 or more, 12 inches or
// more after feet, and a comma with three digits behind it in any unit but the metre (`1,254 mm` may mean 1254 mm).
//
// Resolution says what was written, not what the tape can show: `1.2` was written to 100 mm, `49 3/8"` to 1/8 in.
func Parse(text string, bare Unit) (Reading, error) {
	if int(bare) >= len(micrometres) {
		return Reading{}, refuse(text, "a known unit for bare numbers")
	}
	if len(text) > maxText {
		return Reading{}, refuse(text, fmt.Sprintf("at most %d characters", maxText))
	}
	tokens, want := split(text)
	if want != "" {
		return Reading{}, refuse(text, want)
	}
	p := parser{tokens: tokens, bare: bare}
	r, want := p.length()
	if want != "" {
		return Reading{}, refuse(text, want)
	}
	return r, nil
}

// ParseMany reads repeat readings of one length, separated by ';' or a line break; one trailing separator is allowed.
// Decimal numbers without a unit may also be separated by spaces (`1.254; 1.256 1.255`), because each then has its own
// decimal mark; a space before a fraction belongs to the number (`49 3/8; 49 7/16`). At least one and at most
// [MaxReadings] readings; one bad reading refuses all, with an [*Error] that names it.
func ParseMany(text string, bare Unit) ([]Reading, error) {
	pieces := strings.Split(strings.ReplaceAll(text, "\n", ";"), ";")
	if len(pieces) > 1 && strings.TrimSpace(pieces[len(pieces)-1]) == "" {
		pieces = pieces[:len(pieces)-1]
	}
	var readings []Reading
	for _, piece := range pieces {
		parts := []string{piece}
		if fields := strings.Fields(piece); len(fields) > 1 && allDecimal(fields) {
			parts = fields
		}
		for _, part := range parts {
			r, err := Parse(part, bare)
			if err != nil {
				return nil, err
			}
			if readings = append(readings, r); len(readings) > MaxReadings {
				return nil, refuse(text, fmt.Sprintf("at most %d readings", MaxReadings))
			}
		}
	}
	return readings, nil
}

// allDecimal tells whether every field is digits around one decimal mark, with or without a sign.
func allDecimal(fields []string) bool {
	for _, f := range fields {
		f = strings.TrimLeft(f, "+-")
		if strings.Count(f, ".")+strings.Count(f, ",") != 1 || strings.Trim(f, "0123456789.,") != "" {
			return false
		}
	}
	return true
}

func refuse(text, want string) *Error {
	if runes := []rune(text); len(runes) > maxText {
		text = string(runes[:maxText]) + "…"
	}
	return &Error{Input: text, Want: want}
}

type kind uint8

const (
	number kind = iota
	slash
	dash
	plus
	unit
)

// token is one part of a typed length. A number is mantissa / 10^decimals.
type token struct {
	kind     kind
	mantissa int64
	decimals int
	comma    bool
	unit     Unit
}

// plain spells typographic characters as keyboards do. The space before a built fraction keeps `1⅜` from becoming 13/8.
var plain = strings.NewReplacer(
	"″", `"`, "”", `"`, "“", `"`, "''", `"`, "′′", `"`, "’’", `"`, "′", "'", "’", "'", "‘", "'",
	"−", "-", "–", "-", "‐", "-", "‑", "-", "⁄", "/", "∕", "/", "\u00a0", " ", "\u202f", " ", "\u2009", " ", "\t", " ",
	"½", " 1/2", "¼", " 1/4", "¾", " 3/4", "⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8",
	"⅓", " 1/3", "⅔", " 2/3", "⅕", " 1/5", "⅖", " 2/5", "⅗", " 3/5", "⅘", " 4/5", "⅙", " 1/6", "⅚", " 5/6", "⅒", " 1/10",
)

var unitWords = map[string]Unit{
	"m": Metre, "metre": Metre, "metres": Metre, "meter": Metre, "meters": Metre,
	"cm": Centimetre, "mm": Millimetre,
	"in": Inch, "inch": Inch, "inches": Inch,
	"ft": Foot, "foot": Foot, "feet": Foot,
}

// split cuts a text into tokens; want is empty when every character belongs to one.
func split(text string) (tokens []token, want string) {
	s := plain.Replace(text)
	for i := 0; i < len(s); {
		switch c := s[i]; {
		case c == ' ' || c == '\r' || c == '\n':
			i++
		case isDigit(c) || c == '.' || c == ',':
			t, n, want := scanNumber(s[i:])
			if want != "" {
				return nil, want
			}
			tokens = append(tokens, t)
			i += n
		case c == '/':
			tokens = append(tokens, token{kind: slash})
			i++
		case c == '-':
			tokens = append(tokens, token{kind: dash})
			i++
		case c == '+':
			tokens = append(tokens, token{kind: plus})
			i++
		case c == '\'':
			tokens = append(tokens, token{kind: unit, unit: Foot})
			i++
		case c == '"':
			tokens = append(tokens, token{kind: unit, unit: Inch})
			i++
		default:
			n := i
			for n < len(s) && isLetter(s[n]) {
				n++
			}
			u, ok := unitWords[strings.ToLower(s[i:n])]
			if !ok {
				return nil, "a number with m, cm, mm, in or ft"
			}
			if u.imperial() && n < len(s) && s[n] == '.' { // the abbreviations "in." and "ft."
				n++
			}
			tokens = append(tokens, token{kind: unit, unit: u})
			i = n
		}
	}
	return tokens, ""
}

func isDigit(c byte) bool  { return '0' <= c && c <= '9' }
func isLetter(c byte) bool { return 'a' <= c|0x20 && c|0x20 <= 'z' }

// scanNumber reads digits with at most one decimal mark from the start of s and tells how many bytes it took.
func scanNumber(s string) (t token, n int, want string) {
	whole, mark := 0, false
	for ; n < len(s); n++ {
		c := s[n]
		if isDigit(c) {
			t.mantissa = t.mantissa*10 + int64(c-'0')
			if mark {
				t.decimals++
			} else {
				whole++
			}
			if whole > maxWhole || t.decimals > maxDecimals {
				return t, n, fmt.Sprintf("at most %d digits before the decimal mark and %d after", maxWhole, maxDecimals)
			}
			continue
		}
		if c != '.' && c != ',' {
			break
		}
		if mark {
			return t, n, "one decimal mark, point or comma"
		}
		mark, t.comma = true, c == ','
	}
	if mark && t.decimals == 0 {
		return t, n, "a digit after the decimal mark"
	}
	return t, n, ""
}

type parser struct {
	tokens []token
	bare   Unit
}

// next takes the first token if it is of kind k.
func (p *parser) next(k kind) (token, bool) {
	if len(p.tokens) == 0 || p.tokens[0].kind != k {
		return token{}, false
	}
	t := p.tokens[0]
	p.tokens = p.tokens[1:]
	return t, true
}

// value is a non-negative number num/den, written to the resolution 1/steps of its unit.
type value struct {
	num, den, steps int64
	whole           bool // neither decimals nor a fraction
	fraction        bool
	groups          bool // a comma before exactly three digits, which may be meant to group thousands
}

// length := [sign] quantity, where a quantity in feet may be followed by inches.
func (p *parser) length() (Reading, string) {
	if len(p.tokens) == 0 {
		return Reading{}, "a length such as 1.254 or 4' 1 3/8\""
	}
	sign := int64(1)
	if _, ok := p.next(dash); ok {
		sign = -1
	} else {
		p.next(plus)
	}
	v, want := p.value()
	if want != "" {
		return Reading{}, want
	}
	u, want := p.unit(v, p.bare)
	if want != "" {
		return Reading{}, want
	}
	num, den, step := v.num*micrometres[u], v.den, micrometres[u]
	steps := v.steps
	if u == Foot && len(p.tokens) > 0 {
		if !v.whole {
			return Reading{}, "whole feet before inches"
		}
		p.next(dash) // 4'-1 3/8" is how drawings write it
		in, want := p.value()
		if want != "" {
			return Reading{}, want
		}
		iu, want := p.unit(in, Inch)
		if want != "" {
			return Reading{}, want
		}
		if iu != Inch || in.num >= 12*in.den {
			return Reading{}, "less than 12 inches after feet"
		}
		num = num*in.den + in.num*micrometres[Inch]
		den, step, steps = in.den, micrometres[Inch], in.steps
	}
	if len(p.tokens) > 0 {
		return Reading{}, "one length and nothing after it"
	}
	um := (2*num + den) / (2 * den)
	if um > maxMicrometres {
		return Reading{}, fmt.Sprintf("at most %g m", MaxLength)
	}
	return Reading{
		Length:      float64(sign*num) / (float64(den) * 1e6),
		Resolution:  float64(step) / (float64(steps) * 1e6),
		Micrometres: sign * um,
	}, ""
}

// value := decimal | whole [dash] fraction | fraction
func (p *parser) value() (value, string) {
	first, ok := p.next(number)
	if !ok {
		return value{}, "a number"
	}
	if first.decimals > 0 {
		den := pow10(first.decimals)
		return value{num: first.mantissa, den: den, steps: den, groups: first.comma && first.decimals == 3}, ""
	}
	if _, ok := p.next(slash); ok {
		return p.fraction(first)
	}
	save := p.tokens
	p.next(dash)
	top, ok := p.next(number)
	if ok {
		if _, ok = p.next(slash); ok {
			f, want := p.fraction(top)
			f.num += first.mantissa * f.den
			return f, want
		}
	}
	p.tokens = save
	return value{num: first.mantissa, den: 1, steps: 1, whole: true}, ""
}

// fraction reads the denominator under top; the slash has been taken.
func (p *parser) fraction(top token) (value, string) {
	bottom, ok := p.next(number)
	if !ok || top.decimals > 0 || bottom.decimals > 0 {
		return value{}, "a fraction of two whole numbers, such as 3/8"
	}
	if bottom.mantissa < 1 || bottom.mantissa > maxDenominator {
		return value{}, fmt.Sprintf("a denominator from 1 to %d", maxDenominator)
	}
	if top.mantissa >= bottom.mantissa {
		return value{}, "a fraction below 1, such as 1 3/8 for 11/8"
	}
	return value{num: top.mantissa, den: bottom.mantissa, steps: bottom.mantissa, fraction: true}, ""
}

// unit takes the unit after v, or bare when there is none.
func (p *parser) unit(v value, bare Unit) (Unit, string) {
	u := bare
	if t, ok := p.next(unit); ok {
		u = t.unit
	}
	if v.fraction && !u.imperial() {
		return u, "a decimal number of " + u.String() + "; fractions go with inches or feet"
	}
	if v.groups && u != Metre {
		return u, "no comma before three digits: 1254 or 1.254, as meant"
	}
	return u, ""
}

func pow10(n int) int64 {
	p := int64(1)
	for ; n > 0; n-- {
		p *= 10
	}
	return p
}
