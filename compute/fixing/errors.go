package fixing

import (
	"errors"
	"strconv"
)

// Errors of input. Each is wrapped in an [InputError].
var (
	// ErrNotFinite is returned for NaN and infinities.
	ErrNotFinite = errors.New("fixing: not a finite number")
	// ErrNotPositive is returned for a size or mass that is zero or negative.
	ErrNotPositive = errors.New("fixing: must be above zero")
	// ErrTooLarge is returned for a value no bracket in a room can have.
	ErrTooLarge = errors.New("fixing: implausibly large")
	// ErrGravity is returned for a specific gravity outside NDS Tables 12.2A to 12.2C.
	ErrGravity = errors.New("fixing: specific gravity outside its table")
	// ErrDiameter is returned for a diameter outside the range of an equation.
	ErrDiameter = errors.New("fixing: diameter outside the range of the equation")
	// ErrUnknownSize is returned for a size that its table does not list.
	ErrUnknownSize = errors.New("fixing: unknown size")
	// ErrUnknownKind is returned for a value outside an enumeration.
	ErrUnknownKind = errors.New("fixing: unknown kind")
	// ErrTooShort is returned for a screw that does not reach the base at all.
	ErrTooShort = errors.New("fixing: shorter than plate and lining")
	// ErrEndGrain is returned for a withdrawal value of a screw or nail in end grain.
	ErrEndGrain = errors.New("fixing: not allowed in withdrawal from end grain")
	// ErrTemperature is returned where no temperature factor exists.
	ErrTemperature = errors.New("fixing: no temperature factor")
	// ErrDuration is returned for a load duration that connections may not use.
	ErrDuration = errors.New("fixing: load duration not for connections")
	// ErrBasis is returned where the chosen basis has no values to compare with.
	ErrBasis = errors.New("fixing: no values on this basis")
	// ErrRules is returned for a fixing that the chosen rules do not cover.
	ErrRules = errors.New("fixing: not covered by these rules")
	// ErrDeclared is returned where only the maker's declared value can serve.
	ErrDeclared = errors.New("fixing: needs the maker's declared value")
	// ErrRating is returned for a maker's rating that is missing or cannot be used.
	ErrRating = errors.New("fixing: unusable rating")
)

// Errors of the hole pattern, wrapped in an [InputError].
var (
	// ErrNoHoles is returned for a plate without holes, or with more than [MaxHoles].
	ErrNoHoles = errors.New("fixing: number of holes")
	// ErrCoincident is returned for two holes closer than a millimetre.
	ErrCoincident = errors.New("fixing: two holes in one place")
	// ErrBelowEdge is returned for a hole below the plate's lower edge.
	ErrBelowEdge = errors.New("fixing: hole below the edge of the plate")
	// ErrNoLever is returned for fixings that cannot hold the plate against tilting.
	ErrNoLever = errors.New("fixing: no lever against tilting")
	// ErrTorsion is returned for a single fixing loaded to one side.
	ErrTorsion = errors.New("fixing: one fixing cannot hold a load to the side")
)

// An InputError says which field is wrong, what was read there and what is
// wanted. It wraps one of the package's sentinel errors.
type InputError struct {
	Field string // "load.mass"
	Read  string // "-3 kg"
	Want  string // "above 0 kg"
	Err   error
}

// Error gives one sentence.
func (e *InputError) Error() string {
	return e.Err.Error() + ": " + e.Field + " is " + e.Read + ", wanted " + e.Want
}

// Unwrap returns the sentinel.
func (e *InputError) Unwrap() error { return e.Err }

func bad(err error, field, read, want string) error {
	return &InputError{Field: field, Read: read, Want: want, Err: err}
}

func badNumber(err error, field string, read float64, unit, want string) error {
	return bad(err, field, number(read, unit), want)
}

// number writes a value with six significant figures.
func number(v float64, unit string) string {
	text := strconv.FormatFloat(v, 'g', 6, 64)
	if unit == "" {
		return text
	}
	return text + " " + unit
}

// maxLength bounds every length that is read, m: no wall fixing, member or
// bracket in a room comes near it, and sums of squares stay far from overflow.
const maxLength = 20.0

// positive checks 0 < v <= limit.
func positive(field string, v, limit float64, unit string) error {
	switch {
	case !finite(v):
		return badNumber(ErrNotFinite, field, v, unit, "a number")
	case v <= 0:
		return badNumber(ErrNotPositive, field, v, unit, "above 0")
	case v > limit:
		return badNumber(ErrTooLarge, field, v, unit, "at most "+number(limit, unit))
	}
	return nil
}

// notNegative checks 0 <= v <= limit.
func notNegative(field string, v, limit float64, unit string) error {
	if v == 0 {
		return nil
	}
	if v < 0 {
		return badNumber(ErrNotPositive, field, v, unit, "0 or more")
	}
	return positive(field, v, limit, unit)
}

// within checks |v| <= limit.
func within(field string, v, limit float64, unit string) error {
	if !finite(v) {
		return badNumber(ErrNotFinite, field, v, unit, "a number")
	}
	if v > limit || v < -limit {
		return badNumber(ErrTooLarge, field, v, unit, "at most "+number(limit, unit)+" either way")
	}
	return nil
}
