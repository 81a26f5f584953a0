package wiring

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// How long names on a label may be, in characters. A line of three parts then keeps to [LabelLine].
const (
	MaxCableID   = 8
	MaxMountName = 15
	// MaxAmpName is the longest amplifier name that is printed; if any is longer, all are printed as A1, A2 … in the order
	// of the gear.
	MaxAmpName = 12
	// LabelLine is the most characters on one line of a label, three lines to a label.
	LabelLine = 28
)

// End is an end of a cable.
type End string

// The two ends. SourceEnd is at the amplifier, or at the processor for an active loudspeaker.
const (
	SourceEnd      End = "source"
	LoudspeakerEnd End = "loudspeaker"
)

// Label is what one end of a cable says. Both ends carry the same identifier, From, To and Channel.
type Label struct {
	ID      string
	End     End
	From    string // "Amp 1 ch 3", "output 12"
	To      string // the mount
	Channel string // the audio channel, which names the mount
}

// Lines is the label's text, three lines of at most [LabelLine] characters: the cable and its channel, where this end belongs,
// where the other end is.
func (l Label) Lines() [3]string {
	if l.End == SourceEnd {
		return [3]string{l.ID + " " + l.Channel, "at " + l.From, "to " + l.To}
	}
	return [3]string{l.ID + " " + l.Channel, "at " + l.To, "from " + l.From}
}

// Labels makes the labels for every link that has both a source and a mount, two a link, source end first, in the order of the
// links. Links without a cable identifier are numbered C01, C02 … in that order, with as many digits as the last
// one needs, leaving out numbers that other links already have. The same map always gives the same labels.
//
// Names that are too long ([MaxCableID], [MaxMountName]) or hold what cannot be printed, and an identifier given twice, are an
// [ErrLabel]. AVIXA F501.01:2015 asks for an identifier at every end by a scheme that is written down; this is one.
func (m ChannelMap) Labels() ([]Label, error) {
	if _, err := m.gear(); err != nil {
		return nil, err
	}
	taken := map[string]bool{}
	for i, l := range m.Links {
		if err := printable(fmt.Sprintf("link %d mount", i+1), l.Mount, MaxMountName); err != nil {
			return nil, err
		}
		if l.Cable == "" {
			continue
		}
		if err := printable(fmt.Sprintf("link %d cable", i+1), l.Cable, MaxCableID); err != nil {
			return nil, err
		}
		if taken[l.Cable] {
			return nil, fmt.Errorf("%w: link %d cable: read %q again, want an identifier of its own", ErrLabel, i+1, l.Cable)
		}
		taken[l.Cable] = true
	}
	names, err := m.ampNames()
	if err != nil {
		return nil, err
	}
	var labels []Label
	next, digits := 1, len(fmt.Sprint(max(10, len(m.Links)+len(taken))))
	for _, l := range m.Links {
		from, ok := l.source(names)
		if !ok {
			continue
		}
		id := l.Cable
		for id == "" {
			if free := fmt.Sprintf("C%0*d", digits, next); !taken[free] {
				id = free
			}
			next++
		}
		label := Label{ID: id, End: SourceEnd, From: from, To: l.Mount, Channel: l.Mount}
		labels = append(labels, label)
		label.End = LoudspeakerEnd
		labels = append(labels, label)
	}
	return labels, nil
}

// source is where a link's cable comes from, as printed; ok is false if that is not known yet.
func (l Link) source(names map[string]string) (text string, ok bool) {
	p := Port{l.Amplifier, l.AmpChannel}
	if l.Active {
		p = Port{Channel: l.Output}
	} else if p.Amplifier = names[l.Amplifier]; p.Amplifier == "" {
		return "", false
	}
	pair := l.Bridged && !l.Active
	if p.Channel < 1 || p.Channel > MaxPorts || pair && p.Channel == MaxPorts {
		return "", false
	}
	if pair {
		return fmt.Sprintf("%v+%d", p, p.Channel+1), true
	}
	return p.String(), true
}

// ampNames is each amplifier's name on labels.
func (m ChannelMap) ampNames() (map[string]string, error) {
	names, short := make(map[string]string, len(m.Amps)), false
	for i, a := range m.Amps {
		if err := printable(fmt.Sprintf("amplifier %d", i+1), a.Name, 10*LabelLine); err != nil {
			return nil, err
		}
		names[a.Name] = a.Name
		short = short || utf8.RuneCountInString(a.Name) > MaxAmpName
	}
	for i, a := range m.Amps {
		if short {
			names[a.Name] = fmt.Sprintf("A%d", i+1)
		}
	}
	return names, nil
}

func printable(field, name string, most int) error {
	odd := strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsPrint(r) })
	if name == "" || odd || !utf8.ValidString(name) || utf8.RuneCountInString(name) > most {
		return fmt.Errorf("%w: %s: read %q, want 1 to %d characters that can be printed", ErrLabel, field, name, most)
	}
	return nil
}
