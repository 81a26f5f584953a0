package wiring

import (
	"fmt"
	"slices"
)

// Port is where a signal comes out: an amplifier's channel, or with no amplifier named a processor's output. Both count
// from 1.
type Port struct {
	Amplifier string
	Channel   int
}

// String is "output 5", or the amplifier's name and "ch 3".
func (p Port) String() string {
	if p.Amplifier == "" {
		return fmt.Sprintf("output %d", p.Channel)
	}
	return fmt.Sprintf("%s ch %d", p.Amplifier, p.Channel)
}

// Link is one way of the signal: processor output, amplifier channel, cable, mount.
type Link struct {
	Mount  string // the mount it ends at; its audio channel names it: "M+090"
	Output int    // processor output; 0: none yet
	// Amplifier and AmpChannel drive the mount; without an amplifier or with channel 0 there is none yet.
	Amplifier  string
	AmpChannel int
	// Bridged links use AmpChannel and the one after it as a pair, fed at AmpChannel.
	Bridged bool
	// Active loudspeakers have their own amplifier and are fed from the output itself.
	Active bool
	Cable  string // the cable's identifier; empty: [Labels] numbers it
}

// Amp is an amplifier with numbered channels.
type Amp struct {
	Name     string
	Channels int
}

// MaxPorts bounds the outputs of a processor and the channels of an amplifier: spares are listed one by one.
const MaxPorts = 999

// ChannelMap is every link of a system and the gear they may use.
type ChannelMap struct {
	Outputs int
	Amps    []Amp
	Links   []Link
	// Mounts are those that must be fed; links to others are taken as fed too.
	Mounts []string
	// SharedOutputs may feed several amplifier channels or active loudspeakers.
	SharedOutputs []int
	// SeveralChannels are the mounts that several amplifier channels feed on purpose: their links on the back must be
	// out, or the amplifiers' outputs are joined.
	SeveralChannels []string
}

// Fault is what is wrong in a channel map. The texts are for people and may be stored.
type Fault string

// Clashes: something is used twice or does not exist.
const (
	ChannelShared     Fault = "amplifier channel feeds several mounts"
	OutputShared      Fault = "output feeds several channels"
	ChannelFedTwice   Fault = "amplifier channel fed by several outputs"
	HalfOfPair        Fault = "amplifier channel is half of a bridged pair"
	MountFedTwice     Fault = "mount fed by several channels"
	CableUsedTwice    Fault = "cable used twice"
	UnknownAmplifier  Fault = "no such amplifier"
	NoSuchChannel     Fault = "no such amplifier channel"
	NoSuchOutput      Fault = "no such output"
	PairWithoutSecond Fault = "bridged pair has no second channel"
	ActiveOnAmplifier Fault = "active loudspeaker on an amplifier channel"
)

// Gaps: something is missing.
const (
	MountWithoutLink    Fault = "mount without a link"
	MountWithoutChannel Fault = "mount without an amplifier channel"
	ChannelWithoutFeed  Fault = "channel without an output"
)

// Finding is one fault and where it is. Port is the port it is about, zero if none; Mounts are those concerned, in the order
// of the links.
type Finding struct {
	Fault  Fault
	Port   Port
	Mounts []string
	Cable  string
}

// String is the finding in a sentence.
func (f Finding) String() string {
	text := string(f.Fault)
	if f.Port != (Port{}) {
		text = f.Port.String() + ": " + text
	}
	if f.Cable != "" {
		text += " (" + f.Cable + ")"
	}
	for i, m := range f.Mounts {
		if i == 0 {
			text += ": " + m
		} else {
			text += ", " + m
		}
	}
	return text
}

// Report is what a channel map comes to. Findings stand in the order of the links, spares in the order of the gear.
type Report struct {
	Clashes       []Finding
	Gaps          []Finding
	SpareChannels []Port
	SpareOutputs  []Port
}

// Clear tells that nothing clashes and nothing is missing.
func (r Report) Clear() bool { return len(r.Clashes) == 0 && len(r.Gaps) == 0 }

// Check finds clashes, gaps and spares. A map whose gear is not well formed is an [ErrMap]; what is wrong with links is a
// finding, so that all of it is seen at once.
func (m ChannelMap) Check() (Report, error) {
	gear, err := m.gear()
	if err != nil {
		return Report{}, err
	}
	u := usage{gear: gear, outputs: m.Outputs, feeds: map[Port][]int{}, driven: map[Port][]int{}, second: map[Port]bool{}}
	for i, l := range m.Links {
		u.add(i, l)
	}
	u.shared(m)
	u.mounts(m)
	u.spares(m)
	return u.Report, nil
}

// gear is the number of channels of each amplifier.
func (m ChannelMap) gear() (map[string]int, error) {
	if m.Outputs < 0 || m.Outputs > MaxPorts {
		return nil, fmt.Errorf("%w: outputs: read %d, want 0 to %d", ErrMap, m.Outputs, MaxPorts)
	}
	gear := make(map[string]int, len(m.Amps))
	for i, a := range m.Amps {
		if _, twice := gear[a.Name]; twice || a.Name == "" {
			return nil, fmt.Errorf("%w: amplifier %d: read name %q, want one of its own", ErrMap, i+1, a.Name)
		}
		if a.Channels < 0 || a.Channels > MaxPorts {
			return nil, fmt.Errorf("%w: amplifier %q channels: read %d, want 0 to %d", ErrMap, a.Name, a.Channels, MaxPorts)
		}
		gear[a.Name] = a.Channels
	}
	for i, l := range m.Links {
		if l.Mount == "" {
			return nil, fmt.Errorf("%w: link %d: no mount, want its name", ErrMap, i+1)
		}
	}
	return gear, nil
}

// usage gathers which links use which port.
type usage struct {
	Report
	gear    map[string]int
	outputs int
	feeds   map[Port][]int // by output: the links it feeds
	driven  map[Port][]int // by amplifier channel: the links it drives
	second  map[Port]bool  // channels that some link uses as the second half of a pair
	order   []Port         // ports in the order they were first used
}

func (u *usage) clash(f Fault, p Port, mounts ...string) {
	u.Clashes = append(u.Clashes, Finding{Fault: f, Port: p, Mounts: mounts})
}

func (u *usage) gap(f Fault, p Port, mounts ...string) {
	u.Gaps = append(u.Gaps, Finding{Fault: f, Port: p, Mounts: mounts})
}

func (u *usage) add(i int, l Link) {
	driver := Port{l.Amplifier, l.AmpChannel}
	channels, known := u.gear[l.Amplifier]
	switch {
	case l.Active:
		if l.Amplifier != "" || l.AmpChannel != 0 {
			u.clash(ActiveOnAmplifier, driver, l.Mount)
		}
		driver = Port{}
	case l.Amplifier != "" && !known:
		u.clash(UnknownAmplifier, driver, l.Mount)
		driver = Port{}
	case l.Amplifier == "" || l.AmpChannel == 0:
		u.gap(MountWithoutChannel, Port{}, l.Mount)
		driver = Port{}
	case l.AmpChannel < 0 || l.AmpChannel > channels:
		u.clash(NoSuchChannel, driver, l.Mount)
		driver = Port{}
	}
	if driver != (Port{}) {
		u.use(u.driven, driver, i)
		if l.Bridged {
			u.pair(Port{driver.Amplifier, driver.Channel + 1}, channels, i, l)
		}
	}
	output := Port{Channel: l.Output}
	switch {
	case l.Output == 0:
		u.gap(ChannelWithoutFeed, driver, l.Mount)
	case l.Output < 0 || l.Output > u.outputs:
		u.clash(NoSuchOutput, output, l.Mount)
	default:
		u.use(u.feeds, output, i)
	}
}

func (u *usage) pair(second Port, channels, i int, l Link) {
	if second.Channel > channels {
		u.clash(PairWithoutSecond, Port{l.Amplifier, l.AmpChannel}, l.Mount)
		return
	}
	u.second[second] = true
	u.use(u.driven, second, i)
}

func (u *usage) use(by map[Port][]int, p Port, link int) {
	if by[p] == nil {
		u.order = append(u.order, p)
	}
	by[p] = append(by[p], link)
}

// shared finds ports with more than one user.
func (u *usage) shared(m ChannelMap) {
	for _, p := range u.order {
		if p.Amplifier == "" {
			if users := u.feeds[p]; len(users) > 1 && !slices.Contains(m.SharedOutputs, p.Channel) && m.channels(users) > 1 {
				u.clash(OutputShared, p, m.names(users)...)
			}
			continue
		}
		users := u.driven[p]
		if len(users) < 2 {
			continue
		}
		mounts := m.names(users)
		if u.second[p] {
			u.clash(HalfOfPair, p, mounts...)
			continue
		}
		if len(mounts) > 1 {
			u.clash(ChannelShared, p, mounts...)
		}
		if outputs := m.outputs(users); outputs > 1 {
			u.clash(ChannelFedTwice, p, mounts...)
		}
	}
}

// names are the mounts of some links, each once.
func (m ChannelMap) names(links []int) []string {
	return distinct(m, links, func(l Link) string { return l.Mount })
}

// outputs counts the outputs that feed some links.
func (m ChannelMap) outputs(links []int) int {
	fed := slices.DeleteFunc(slices.Clone(links), func(i int) bool { return m.Links[i].Output == 0 })
	return len(distinct(m, fed, func(l Link) int { return l.Output }))
}

// channels counts what an output feeds: amplifier channels, and active loudspeakers by their mounts.
func (m ChannelMap) channels(links []int) int {
	type fed struct {
		Port
		mount string
	}
	return len(distinct(m, links, func(l Link) fed {
		if l.Active || l.Amplifier == "" || l.AmpChannel == 0 {
			return fed{mount: l.Mount}
		}
		return fed{Port: Port{l.Amplifier, l.AmpChannel}}
	}))
}

func distinct[T comparable](m ChannelMap, links []int, of func(Link) T) []T {
	var list []T
	seen := make(map[T]bool, len(links))
	for _, i := range links {
		if v := of(m.Links[i]); !seen[v] {
			seen[v] = true
			list = append(list, v)
		}
	}
	return list
}

// mounts finds mounts with no link or several, and cables used twice.
func (u *usage) mounts(m ChannelMap) {
	links := map[string]int{}
	cables := map[string][]int{}
	var ids []string
	for i, l := range m.Links {
		links[l.Mount]++
		if links[l.Mount] == 2 && !slices.Contains(m.SeveralChannels, l.Mount) {
			u.clash(MountFedTwice, Port{}, l.Mount)
		}
		if l.Cable == "" {
			continue
		}
		if cables[l.Cable] == nil {
			ids = append(ids, l.Cable)
		}
		cables[l.Cable] = append(cables[l.Cable], i)
	}
	for _, id := range ids {
		if len(cables[id]) > 1 {
			u.Clashes = append(u.Clashes, Finding{Fault: CableUsedTwice, Cable: id, Mounts: m.names(cables[id])})
		}
	}
	for _, mount := range m.Mounts {
		if links[mount] == 0 {
			links[mount]++ // said once, however often it is listed
			u.gap(MountWithoutLink, Port{}, mount)
		}
	}
}

func (u *usage) spares(m ChannelMap) {
	for _, a := range m.Amps {
		for c := 1; c <= a.Channels; c++ {
			if p := (Port{a.Name, c}); u.driven[p] == nil {
				u.SpareChannels = append(u.SpareChannels, p)
			}
		}
	}
	for o := 1; o <= m.Outputs; o++ {
		if p := (Port{Channel: o}); u.feeds[p] == nil {
			u.SpareOutputs = append(u.SpareOutputs, p)
		}
	}
}
