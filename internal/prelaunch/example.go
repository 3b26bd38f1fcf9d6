package prelaunch

import _ "embed"

// ExamplePlan is a plan file to start from.
//
//go:embed example.toml
var ExamplePlan string
