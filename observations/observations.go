// Package observations reads who-heard-whom reports: what was heard, by whom,
// when and how strongly. It knows nothing of nets or links.
//
// A reader yields, for every line of input, either reports or a located
// problem; one bad line never stops the reading. Everything that was read is
// accounted for in Counts.
package observations

// SiteID is an index into Log.Sites.
type SiteID uint32

// Site is a station as a log names it, at one place.
type Site struct {
	Call    string // as written, trimmed and in upper case
	Locator string // Maidenhead locator in customary case, "" when not given or wrong
}

// Report is one station's decode of another. It is 40 bytes.
type Report struct {
	Time      int64   // Unix seconds, UTC, fractions cut off
	Frequency uint32  // Hz, 0 when not given
	Receiver  SiteID  // who heard
	Sender    SiteID  // who was heard
	SNR       float32 // dB in a reference bandwidth of 2500 Hz, −60…+60
	Power     float32 // transmit power of the sender in W, 0 when not given
	Delay     uint32  // seconds from Time until the report reached this desk, 0 when not given
	Line      uint32  // line in its source, from 1
	Source    uint16  // index into Log.Sources
	Channel   uint16  // 1 + index into Log.Channels of the channel it names, 0 when none
}

// Claim is a typed list that says it is complete: a station heard everybody it
// could over the listening window that ends at Time, so a witnessed
// transmission in that window by a station it did not report is a miss.
type Claim struct {
	Time     int64 // Unix seconds, UTC
	Receiver SiteID
	Line     uint32
	Source   uint16
	Channel  uint16 // 1 + index into Log.Channels, 0 when none
}

// Counts accounts for every report that was read:
// Read = Rejected + Earlier + Later + Duplicate + Outside + Used.
// Reading fills Read, Rejected, Earlier and Later; the net fills the others.
type Counts struct {
	Read      int // reports seen; a typed list of three heard stations is three; an unreadable line is one
	Rejected  int // could not be used, each with a Problem, or with one for all of its source
	Earlier   int // before the time window asked for
	Later     int // after the moment asked for, or not at this desk by then; set apart
	Duplicate int // same slot, band, receiver and sender as another
	Outside   int // neither station is in the plan, or no channel is on that band
	Used      int // the rest
}

// Problem is a line that could not be used, or only in part, and how to mend it.
type Problem struct {
	Source  string // file name as given, "-" for standard input, "--heard 1" for a typed argument
	Line    int    // from 1, 0 when the whole source is meant
	Column  int    // byte column from 1, 0 when the whole line is meant
	Field   string // column or key name, "" when the whole line is meant
	Value   string // the offending text, shortened
	Message string // what is wrong
	Mend    string // what to do about it
	Warning bool   // the line was still used
}

// Log is what was read: compact, sorted by time, then sender, receiver,
// frequency, SNR, power, delay, channel and origin, whatever the order of the
// input.
type Log struct {
	Reports  []Report
	Claims   []Claim  // sorted by time, then receiver, channel and origin
	Sites    []Site   // of reports and claims, sorted by call sign, then locator
	Channels []string // channel names used by typed lists, sorted
	Sources  []string
	Counts   Counts
	Problems []Problem // the first Options.MaxProblems of them
	// ProblemCount counts all problems, kept in Problems or not.
	ProblemCount int
	// Moment is the moment asked for, resolved: Options.Moment, or the time of
	// the newest report, 0 if there is none. Unix seconds.
	Moment int64
}

// Call returns the call sign of a site.
func (l *Log) Call(id SiteID) string { return l.Sites[id].Call }
