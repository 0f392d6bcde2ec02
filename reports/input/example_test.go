package input_test

import (
	"fmt"

	"nightfloor/reports/input"
	"nightfloor/survey"
)

// A level against full scale moves with the receiver's gain. Where the gains are measured it can
// be referred to another; a tuner's label says too little for that.
func ExampleRefer() {
	exact := func(db survey.DB) survey.Gain { return survey.Gain{DB: db, Known: true, Exact: true} }
	label := func(db survey.DB) survey.Gain { return survey.Gain{DB: db, Known: true} }
	fmt.Println(input.Refer(exact(30), exact(20)))
	fmt.Println(input.Refer(label(30), label(20)))
	fmt.Println(input.Refer(label(20), label(20)))
	// Output:
	// 10 true
	// 10 false
	// 0 true
}
