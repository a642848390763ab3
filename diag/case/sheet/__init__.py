"""The sheet of a case: for an operator the call sheet, for others the handover sheet."""
