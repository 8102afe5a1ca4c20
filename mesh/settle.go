package mesh

// Settle tells what one more report would settle about a direction on a channel:
// the standard deviation in dB of its SNR at a moment, as Edge has it where the link is not inferred, and what it
// would be had there been a report in the slot of an earlier moment (by the filter;
// what the report says doesn't matter to it). It is false where nothing is
// estimated, as Growth says.
func (l *Links) Settle(from, to, channel int, report, unix int64) (before, after float64, ok bool) {
	g, ok := l.Growth(from, to, channel)
	if !ok {
		return 0, 0, false
	}
	before = g.Model.Forecast(g.State, unix).SD
	g.Model.Report(g.State, report, g.Model.Forecast(g.State, report).SNR, true)
	return before, g.Model.Forecast(g.State, unix).SD, true
}
