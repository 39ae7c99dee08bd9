"""May this tree be tapped this season: rule sets, verdicts, and every reason for and against."""
