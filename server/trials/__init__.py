"""Contacts tried without a show: played without hardware (`pretence`), listened to (`overheard`), searched (`scan`)."""
