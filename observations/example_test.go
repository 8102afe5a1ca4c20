package observations_test

import (
	"context"
	"fmt"
	"strings"
	"time"

	"farhop/observations"
)

const heard = `time,receiver,sender,snr_db,frequency_hz
2026-03-02T14:20:00Z,MILL,HARBOR,-9,7131000
2026-03-02T14:20:05Z,MILL,HARBOR,-12,7131040
2026-03-02T14:20:00Z,MILL,SUMMIT,loud,7131000
1420Z all HARBOR copies MILL -4 on day
`

func ExampleRead() {
	log, err := observations.Read(context.Background(), []observations.Input{{Name: "log", Text: heard}}, observations.Options{Newest: true})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, r := range log.Reports {
		fmt.Println(time.Unix(r.Time, 0).UTC().Format(time.TimeOnly), log.Call(r.Sender), "→", log.Call(r.Receiver), r.SNR, "dB")
	}
	for _, p := range log.Problems {
		fmt.Printf("%s:%d:%d: %s %q: %s; %s\n", p.Source, p.Line, p.Column, p.Field, p.Value, p.Message, p.Mend)
	}
	fmt.Printf("%d read, %d rejected\n", log.Counts.Read, log.Counts.Rejected)
	// Output:
	// 14:20:00 HARBOR → MILL -9 dB
	// 14:20:00 MILL → HARBOR -4 dB
	// 14:20:05 HARBOR → MILL -12 dB
	// log:4:34: snr_db "loud": not a number; write the SNR in dB like -9
	// 4 read, 1 rejected
}

func ExampleReader() {
	r := observations.NewReader("log", strings.NewReader(heard))
	r.Moment = time.Date(2026, 3, 2, 15, 0, 0, 0, time.UTC)
	for r.Next() {
		switch x := r.Record(); {
		case x.Report != nil:
			fmt.Printf("%d %s → %s on %q\n", x.Report.Line, r.Site(x.Report.Sender).Call, r.Site(x.Report.Receiver).Call, r.Channel(x.Report.Channel))
		case x.Claim != nil:
			fmt.Println(x.Claim.Line, r.Site(x.Claim.Receiver).Call, "says that is all")
		case x.Problem != nil:
			fmt.Println(x.Problem.Line, x.Problem.Field, x.Problem.Message)
		}
	}
	fmt.Println(r.Err())
	// Output:
	// 2 HARBOR → MILL on ""
	// 3 HARBOR → MILL on ""
	// 4 snr_db not a number
	// 5 MILL → HARBOR on "day"
	// 5 HARBOR says that is all
	// <nil>
}

func ExampleLog_Distinct() {
	log, err := observations.Read(context.Background(), []observations.Input{{Text: heard}}, observations.Options{Newest: true})
	if err != nil {
		fmt.Println(err)
		return
	}
	kept, duplicates := log.Distinct(40*time.Second, func(r *observations.Report) (receiver, sender uint32, band observations.Band, ok bool) {
		return uint32(r.Receiver), uint32(r.Sender), observations.BandOf(r.Frequency), true
	})
	fmt.Println(len(kept), "kept,", duplicates, "duplicate")
	// Output: 2 kept, 1 duplicate
}

func ExampleBandOf() {
	fmt.Println(observations.BandOf(7_131_000), observations.BandOf(27_185_000))
	// Output: 40m 27 MHz
}

func ExampleNearest() {
	fmt.Println(observations.Nearest("HABOUR", []string{"MILL", "HARBOR", "SUMMIT"}))
	// Output: HARBOR true
}
