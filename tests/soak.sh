#!/bin/sh
# Plays for an hour (LEADSMAN_SOAK_MINUTES) in real time on a JACK server of its own, beside whatever else runs. What was
# seen every ten seconds goes to target/tmp/soak-*-samples.csv. Run from the top of the repository.
set -eu
LEADSMAN_TEST_JACK_NAME=leadsman-soak nice cargo test --release --features jack --test jack_soak -- \
  --ignored --nocapture
