"""The cookie that carries a word to the next page, under a name the settings choose."""

from django.conf import settings
from django.contrib.messages.storage.cookie import CookieStorage
from django.contrib.messages.storage.fallback import FallbackStorage
from django.contrib.messages.storage.session import SessionStorage


class MessageCookie(CookieStorage):
    """Django's cookie, whose name is fixed there."""

    cookie_name = settings.MESSAGE_COOKIE_NAME


class MessageStorage(FallbackStorage):
    """In the cookie, or in the session what is too long for one."""

    storage_classes = (MessageCookie, SessionStorage)
