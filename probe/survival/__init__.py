"""What makes a run outlive the card, the driver, the process and the PC."""
