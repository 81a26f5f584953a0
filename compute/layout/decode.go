package layout

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"sync"
)

//go:embed layouts.json
var layoutsJSON []byte

// ErrData is returned when layout data do not hold together.
var ErrData = errors.New("layout: bad layout data")

type library struct {
	list   []*Layout
	byName map[string]*Layout
}

// published decodes the embedded file once, when it is first needed. It cannot fail: a test decodes the same bytes.
var published = sync.OnceValue(func() library {
	list, err := Decode(layoutsJSON)
	if err != nil {
		panic(err)
	}
	lib := library{list, make(map[string]*Layout, len(list))}
	for _, l := range list {
		lib.byName[l.Name] = l
	}
	return lib
})

type fileJSON struct {
	SchemaVersion int                   `json:"schema_version"`
	Convention    map[string]string     `json:"convention"`
	Sources       map[string]sourceJSON `json:"sources"`
	Layouts       []layoutJSON          `json:"layouts"`
}

type sourceJSON struct {
	Edition string `json:"edition"`
	Where   string `json:"where"`
}

type layoutJSON struct {
	System       string            `json:"system"`
	Name         string            `json:"name"`
	Title        string            `json:"title"`
	Basis        string            `json:"basis"`
	Derived      bool              `json:"derived"`
	Home         []string          `json:"home"`
	Sources      []string          `json:"sources"`
	Note         string            `json:"note"`
	Loudspeakers []loudspeakerJSON `json:"loudspeakers"`
	Rules        []ruleJSON        `json:"rules"`
}

type loudspeakerJSON struct {
	Label            string           `json:"label"`
	Short            string           `json:"short"`
	Pair             string           `json:"pair"`
	Azimuth          float64          `json:"azimuth_deg"`
	Elevation        float64          `json:"elevation_deg"`
	NominalSpecified bool             `json:"nominal_specified"`
	AzimuthBands     [][2]float64     `json:"azimuth_bands_deg"`
	ElevationRange   [2]float64       `json:"elevation_range_deg"`
	LFE              bool             `json:"lfe"`
	Alternative      *alternativeJSON `json:"alternative"`
}

type alternativeJSON struct {
	Azimuth   [2]float64 `json:"azimuth_deg"`
	Elevation [2]float64 `json:"elevation_deg"`
	Source    string     `json:"source"`
}

type ruleJSON struct {
	Kind     RuleKind  `json:"kind"`
	Labels   [2]string `json:"labels"`
	Min      float64   `json:"min_deg"`
	Max      float64   `json:"max_deg"`
	Source   string    `json:"source"`
	Verified bool      `json:"verified"`
	Note     string    `json:"note"`
}

// Decode reads layout data in the form of layouts.json, whose angles are degrees. Unknown fields, unknown sources, a label
// or name used twice, a pair or rule that names nobody, a range outside -180 to 180 (elevation -90 to 90) and a nominal
// direction outside its own range are refused with [ErrData].
func Decode(data []byte) ([]*Layout, error) {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	var f fileJSON
	if err := dec.Decode(&f); err != nil {
		return nil, fmt.Errorf("%w: %v", ErrData, err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, fmt.Errorf("%w: text after the last brace", ErrData)
	}
	if f.SchemaVersion != 1 {
		return nil, fmt.Errorf("%w: schema_version: read %d, want 1", ErrData, f.SchemaVersion)
	}
	seen := map[string]bool{}
	var list []*Layout
	for _, lj := range f.Layouts {
		if lj.Name == "" || seen[lj.Name] {
			return nil, fmt.Errorf("%w: layout name %q: want one of its own", ErrData, lj.Name)
		}
		seen[lj.Name] = true
		l, err := lj.layout(f.Sources)
		if err != nil {
			return nil, fmt.Errorf("%w: %s: %v", ErrData, lj.Name, err)
		}
		list = append(list, l)
	}
	return list, nil
}

func (lj layoutJSON) layout(sources map[string]sourceJSON) (*Layout, error) {
	l := &Layout{
		System: lj.System, Name: lj.Name, Title: lj.Title, Basis: lj.Basis,
		Derived: lj.Derived, Note: lj.Note, Home: lj.Home,
	}
	if len(lj.Sources) == 0 {
		return nil, errors.New("sources: read none, want at least one")
	}
	for _, key := range lj.Sources {
		s, err := source(sources, key)
		if err != nil {
			return nil, err
		}
		l.Sources = append(l.Sources, s)
	}
	for _, sj := range lj.Loudspeakers {
		if _, twice := l.Loudspeaker(sj.Label); twice || sj.Label == "" {
			return nil, fmt.Errorf("label %q: want one of its own", sj.Label)
		}
		s, err := sj.loudspeaker(sources)
		if err != nil {
			return nil, fmt.Errorf("%s: %v", sj.Label, err)
		}
		s.Edition = l.Sources[0].Edition
		l.Loudspeakers = append(l.Loudspeakers, s)
	}
	for i := range l.Loudspeakers {
		if s := &l.Loudspeakers[i]; s.Pair != "" {
			if p, ok := l.Loudspeaker(s.Pair); !ok || p.Pair != s.Label {
				return nil, fmt.Errorf("%s: pair %q: want a label that names it back", s.Label, s.Pair)
			}
		}
	}
	for _, rj := range lj.Rules {
		r, err := rj.rule(l, sources)
		if err != nil {
			return nil, fmt.Errorf("rule %q: %v", rj.Labels, err)
		}
		l.Rules = append(l.Rules, r)
	}
	return l, nil
}

func source(sources map[string]sourceJSON, key string) (Source, error) {
	s, ok := sources[key]
	if !ok {
		return Source{}, fmt.Errorf("source %q: want a key of sources", key)
	}
	return Source(s), nil
}

func (sj loudspeakerJSON) loudspeaker(sources map[string]sourceJSON) (Loudspeaker, error) {
	s := Loudspeaker{
		Label: sj.Label, Short: sj.Short, Pair: sj.Pair, LFE: sj.LFE, NominalSpecified: sj.NominalSpecified,
		Azimuth: radians(sj.Azimuth), Elevation: radians(sj.Elevation),
	}
	if len(sj.AzimuthBands) == 0 {
		return s, errors.New("azimuth_bands_deg: read none, want at least one")
	}
	for _, b := range sj.AzimuthBands {
		r, err := azimuthRange(b)
		if err != nil {
			return s, err
		}
		s.Bands = append(s.Bands, r)
	}
	el, err := elevationRange(sj.ElevationRange)
	if err != nil {
		return s, err
	}
	s.ElMin, s.ElMax = el.From, el.To
	if az, el := s.OutsideBy(s.Nominal()); az != 0 || el != 0 {
		return s, fmt.Errorf("nominal %g/%g: want it inside its own range", sj.Azimuth, sj.Elevation)
	}
	if aj := sj.Alternative; aj != nil {
		a := &Alternative{}
		if a.Azimuth, err = azimuthRange(aj.Azimuth); err != nil {
			return s, err
		}
		if a.Elevation, err = elevationRange(aj.Elevation); err != nil {
			return s, err
		}
		if a.Source, err = source(sources, aj.Source); err != nil {
			return s, err
		}
		s.Alternative = a
	}
	return s, nil
}

func (rj ruleJSON) rule(l *Layout, sources map[string]sourceJSON) (Rule, error) {
	r := Rule{Kind: rj.Kind, Labels: rj.Labels, Min: radians(rj.Min), Max: radians(rj.Max), Verified: rj.Verified, Note: rj.Note}
	if rj.Kind != SymmetricPair && rj.Kind != AzimuthGap {
		return r, fmt.Errorf("kind: read %q, want %s or %s", rj.Kind, SymmetricPair, AzimuthGap)
	}
	if rj.Kind == AzimuthGap && !(0 <= rj.Min && rj.Min <= rj.Max && rj.Max <= 180) {
		return r, fmt.Errorf("gap: read %g to %g, want 0 to 180 in order", rj.Min, rj.Max)
	}
	for _, label := range rj.Labels {
		if _, ok := l.Loudspeaker(label); !ok {
			return r, fmt.Errorf("label %q: want one of the layout", label)
		}
	}
	var err error
	r.Source, err = source(sources, rj.Source)
	return r, err
}

// azimuthRange takes the ends as they are: From may be the larger number, since the arc runs anticlockwise.
func azimuthRange(deg [2]float64) (Range, error) {
	if math.Abs(deg[0]) > 180 || math.Abs(deg[1]) > 180 {
		return Range{}, fmt.Errorf("azimuth: read %g to %g, want -180 to 180", deg[0], deg[1])
	}
	return Range{radians(deg[0]), radians(deg[1])}, nil
}

func elevationRange(deg [2]float64) (Range, error) {
	if !(-90 <= deg[0] && deg[0] <= deg[1] && deg[1] <= 90) {
		return Range{}, fmt.Errorf("elevation: read %g to %g, want -90 to 90 in order", deg[0], deg[1])
	}
	return Range{radians(deg[0]), radians(deg[1])}, nil
}

func radians(deg float64) float64 { return deg * math.Pi / 180 }
