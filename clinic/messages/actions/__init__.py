from clinic.messages.actions.planning import TooLateToCancel, cancel_for, cancel_for_patient, cancel_one, plan

__all__ = ["TooLateToCancel", "cancel_for", "cancel_for_patient", "cancel_one", "plan"]
