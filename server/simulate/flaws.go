package simulate

// Flaws that tests break a run with. Each stands for a fault that a careless
// change could bring in.
const (
	flawDrop   flaw = "the pending row goes before the record is stored"
	flawEarly  flaw = "the server answers before the entry is kept"
	flawTorn   flaw = "the store keeps a part of an addition"
	flawHold   flaw = "the store turns refusals into acceptances"
	flawSeal   flaw = "the store drops the seals"
	flawNumber flaw = "the phone's storage lets a number be used twice"
	flawStale  flaw = "the server reads less than it kept"
	flawSaid   flaw = "the screen says saved though the storage was full"
	flawBlock  flaw = "a refused entry stops the exchange"

	flawEdition flaw = "the server goes by former steps and says that it goes by today's"
	flawTold    flaw = "nobody is told that a phone goes by former steps"

	flawRelease flaw = "the phone lets go of photos that it has not sent"
	flawLatest  flaw = "the phone lets go of the latest photos first"
	flawSent    flaw = "the phone takes a piece without an answer for a whole photo"
	flawKeep    flaw = "the phone saves an entry, and its photos after it"
	flawAgain   flaw = "the phone does not send photos again that an old backup lost"
	flawPlace   flaw = "the server takes a piece wherever it begins"
	flawByte    flaw = "the server changes a byte of a picture"
	flawSync    flaw = "the server names a photo that is not synced"
	flawName    flaw = "the server does not sync the name of a photo"
)
