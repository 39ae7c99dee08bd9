"""What a stand is: trees, what was measured, what was drilled, what was collected, and the ground they stand on."""
