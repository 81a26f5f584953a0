package pages

import (
	"errors"
	"strconv"
	"strings"

	"hangtrue/checklist"
	"hangtrue/checklist/judge"
	"hangtrue/compute/sound"
	. "hangtrue/pwa/markup"
)

// File reads a file that was chosen on a form and tells what it says: element id
// to its new content. It records nothing and fills in nothing: the person answers.
func File(path string, data []byte, src Source) map[string]string {
	if v, rest, ok := under(path, "plan", src); ok {
		return v.tableFile(rest, data)
	}
	v, k, ok := open(path, src)
	if !ok || k.Step != impulseStep {
		return nil
	}
	return map[string]string{"impulse": String(v.impulse(k, data))}
}

// impulseStep is the step at which a recorded impulse can be read.
const impulseStep = "polarity"

// impulseField offers to read a recording, at the step where it helps.
func (v view) impulseField(step *checklist.Step) Node {
	if step.ID != impulseStep {
		return nil
	}
	return El("details", El("summary", Text("Read it from a recorded impulse")),
		El("div", class("field"),
			El("label", Attr("for", "f-impulse"), Text("Recording (WAV, one channel)")),
			El("span", class("quiet hint"), Attr("id", "h-impulse"), Text("an impulse response of this loudspeaker alone; it stays on this phone")),
			El("input", Attr("type", "file"), Attr("id", "f-impulse"), Attr("name", "impulse"), Attr("accept", ".wav,audio/wav,audio/x-wav"), Attr("data-most", strconv.Itoa(judge.MaxImpulse)), Attr("aria-describedby", "h-impulse impulse"))),
		El("div", Attr("id", "impulse"), class("draft"), Attr("aria-live", "polite")))
}

// impulse shows what a recording says, in the words of the step's own answers.
func (v view) impulse(k checklist.Key, data []byte) Node {
	if len(data) == 0 || len(data) > judge.MaxImpulse {
		return El("p", class("notice"), Text("This file is too large for a phone. One second of one channel is enough."))
	}
	m := v.State.Plan().MountByChannel(k.Mount)
	model := v.State.Plan().Model(m.Model)
	r, err := judge.ReadImpulse(data, 0, sound.Band{}, model != nil && model.Kind == "subwoofer")
	switch {
	case errors.Is(err, sound.ErrChannel):
		return El("p", class("notice"), Text("The recording has several channels. Save the microphone's alone."))
	case errors.Is(err, sound.ErrSilence):
		return El("p", class("notice"), Text("The recording is silent."))
	case err != nil:
		return El("p", class("notice"), Text("This is not a recording that can be read: "+unprefixed(err)+"."))
	}
	kind := map[string]string{"right": "within", "reversed": "outside"}[r.Choice]
	if kind == "" {
		kind = "unsure"
	}
	return El("div", class("verdict "+kind),
		El("p", class("head"), verdictWord(kind, map[string]string{"right": "outward: right", "reversed": "inward: reversed"}[r.Choice]), If(r.Choice == "unclear", Text("Could not tell"))),
		El("p", Text(r.Says)),
		El("p", class("quiet"), Text("The sign of the first motion that reaches a fifth of the largest: this program's own rule. Filters, the amplifier and the microphone must keep polarity. Answer below what you conclude.")))
}

// unprefixed is an error without the name of the package that found it.
func unprefixed(err error) string { return strings.TrimPrefix(err.Error(), "sound: ") }
