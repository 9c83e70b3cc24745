"""Addresses of the commissions app."""

from django.urls import URLPattern

app_name = "commissions"

urlpatterns: list[URLPattern] = []
